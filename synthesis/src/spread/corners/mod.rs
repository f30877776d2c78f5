//! The worst case: the lowest and the highest value of each figure within the tolerance region, which is what tolerances,
//! drift and ageing allow.
//!
//! All corners are evaluated where they are few; otherwise a guided search is made among them. The extreme of a figure that is
//! not monotonic need not be at a corner: lines through the region test that, and a coordinate search refines it.

use std::task::Poll;

mod axes;
mod every;
mod guided;
mod lines;
mod look;
mod record;
mod refine;

pub use axes::Axis;
pub use lines::Bend;
pub use record::{Extreme, Extremes};

use super::{Draws, Figures, Population};
use guided::Guided;
use lines::Lines;
use look::Look;
use refine::Refine;

/// What is looked at.
pub struct CornersSetting {
    /// Of what [`Figures`] reads.
    pub population: Population,
    pub seed: u64,
    /// Units of the boards on which each figure was lowest and highest, where boards were drawn.
    pub drawn: Vec<[Option<Vec<f64>>; 2]>,
    /// Every corner is looked at as long as there are no more axes than this, 16 at most.
    pub every: usize,
}

/// The work: [`Corners::advance`] until it says that it is done.
pub struct Corners {
    look: Look,
    drawn: Vec<[Option<Vec<f64>>; 2]>,
    phase: Phase,
    lines: Lines,
}

enum Phase {
    Every(u32),
    Guided(Box<Guided>),
    Lines,
    Refine(Refine),
    Done,
}

impl CornersSetting {
    /// The most axes of which every corner is looked at.
    pub const EVERY: usize = every::MOST;
}

impl Corners {
    pub fn new(setting: CornersSetting) -> Corners {
        let look = Look::new(setting.population, setting.seed);
        let mut drawn = setting.drawn;
        for units in drawn.iter_mut().flatten().flatten() {
            axes::at_the_end(&look.draws, units);
        }
        let phase = if look.axes.len() <= setting.every.min(every::MOST) {
            Phase::Every(0)
        } else {
            Phase::Guided(Box::new(Guided::new(setting.seed)))
        };
        Corners {
            phase,
            lines: Lines::new(setting.seed),
            look,
            drawn,
        }
    }

    /// Works until all is found or until `go_on` says no.
    pub fn advance(
        &mut self,
        figures: &mut dyn Figures,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        let look = &mut self.look;
        loop {
            if matches!(self.phase, Phase::Done) {
                return Poll::Ready(());
            }
            if !go_on() {
                return Poll::Pending;
            }
            let next = match &mut self.phase {
                Phase::Every(next) => {
                    *next = every::step(look, figures, *next);
                    (u64::from(*next) == 1 << look.axes.len()).then_some(Phase::Lines)
                }
                Phase::Guided(guided) => {
                    let is_done = guided.step(look, figures, &self.drawn).is_ready();
                    is_done.then_some(Phase::Lines)
                }
                Phase::Lines => {
                    let is_done = self.lines.step(look, figures).is_ready();
                    is_done.then(|| Phase::Refine(Refine::default()))
                }
                Phase::Refine(refine) => {
                    let is_done = refine.step(look, figures, &self.drawn).is_ready();
                    is_done.then_some(Phase::Done)
                }
                Phase::Done => None,
            };
            if let Some(next) = next {
                self.phase = next;
            }
        }
    }

    /// The share that is done, roughly.
    pub fn progress(&self) -> f64 {
        let figures = self.look.seen.len();
        match &self.phase {
            Phase::Every(next) => 0.5 * f64::from(*next) / (1u64 << self.look.axes.len()) as f64,
            Phase::Guided(guided) => 0.5 * guided.progress(figures),
            Phase::Lines => 0.5 + 0.2 * self.lines.progress(),
            Phase::Refine(refine) => 0.7 + 0.3 * refine.progress(figures),
            Phase::Done => 1.0,
        }
    }

    /// The box's axes.
    pub fn axes(&self) -> &[Axis] {
        &self.look.axes
    }

    /// Boards that were read, corners among them, and lines.
    pub fn counts(&self) -> (u64, u64, u32) {
        (self.look.boards, self.look.corners, self.lines.lines)
    }

    /// Each figure's extremes.
    pub fn extremes(&self) -> &[Extremes] {
        &self.look.seen
    }

    /// How each figure goes along each axis.
    pub fn bends(&self, figure: usize) -> &[Bend] {
        &self.lines.bends[figure]
    }

    /// What draws the boards of these units.
    pub fn draws(&self) -> &Draws {
        &self.look.draws
    }
}
