//! Whether a board inside the tolerance region is beyond the corners: coordinate search from the most extreme corner and from
//! the most extreme board that was drawn.

use std::task::Poll;

use super::axes::Axis;
use super::look::Look;
use super::record::SIDES;
use crate::spread::Figures;

/// Steps along an axis, coarse to fine.
const STEPS: [f64; 4] = [0.25, 0.0625, 0.015_625, 0.003_906_25];
/// Rounds over all axes with one step at most.
const ROUNDS: usize = 6;

/// Where it stands: [`Refine::step`] until it says that it is done.
#[derive(Default)]
pub struct Refine {
    figure: usize,
    side: usize,
    /// The furthest corner first, then the drawn board.
    start: usize,
    at: Option<Walk>,
}

struct Walk {
    units: Vec<f64>,
    /// Larger is further out.
    value: f64,
    step: usize,
    round: usize,
    axis: usize,
    has_moved: bool,
}

impl Refine {
    pub fn progress(&self, figures: usize) -> f64 {
        self.figure as f64 / figures.max(1) as f64
    }

    /// Reads a few boards; ready when all is done. `drawn` are the furthest boards that were drawn, by
    /// figure and side.
    pub fn step(
        &mut self,
        look: &mut Look,
        figures: &mut dyn Figures,
        drawn: &[[Option<Vec<f64>>; 2]],
    ) -> Poll<()> {
        if self.figure >= figures.count() || look.axes.is_empty() {
            return Poll::Ready(());
        }
        let Some(walk) = &mut self.at else {
            self.set_out(look, figures, drawn);
            return Poll::Pending;
        };
        let sign = SIDES[self.side];
        let boards = walk.neighbours(&look.axes[walk.axis]);
        let read = look.read(figures, &boards, false);
        let rows = boards.chunks_exact(walk.units.len());
        for (units, row) in rows.zip(read.chunks_exact(figures.count())) {
            let value = sign * row[self.figure];
            // Rounding is no progress.
            if value > walk.value + 1e-12 * walk.value.abs() {
                walk.value = value;
                walk.has_moved = true;
                walk.units = units.to_vec();
            }
        }
        walk.axis += 1;
        if walk.axis == look.axes.len() && !walk.next_round() {
            self.next();
        }
        Poll::Pending
    }

    /// Begins a walk, where there is a board to begin from.
    fn set_out(
        &mut self,
        look: &mut Look,
        figures: &mut dyn Figures,
        drawn: &[[Option<Vec<f64>>; 2]],
    ) {
        let corner = look.seen[self.figure].corners[self.side].as_ref();
        let units = match self.start {
            0 => corner.map(|corner| corner.units.clone()),
            _ => drawn.get(self.figure).and_then(|d| d[self.side].clone()),
        };
        let Some(units) = units else {
            return self.next();
        };
        let read = look.read(figures, &units, false);
        self.at = Some(Walk {
            units,
            value: SIDES[self.side] * read[self.figure],
            step: 0,
            round: 0,
            axis: 0,
            has_moved: false,
        });
    }

    fn next(&mut self) {
        self.at = None;
        self.start += 1;
        if self.start == 2 {
            self.start = 0;
            self.side += 1;
        }
        if self.side == 2 {
            self.side = 0;
            self.figure += 1;
        }
    }
}

impl Walk {
    /// Boards a step away along an axis, row after row, and those at its ends.
    fn neighbours(&self, axis: &Axis) -> Vec<f64> {
        let now = axis.place(&self.units);
        let step = STEPS[self.step];
        let places = [0.0, 1.0, now - step, now + step];
        let mut boards = Vec::with_capacity(places.len() * self.units.len());
        for place in places {
            let is_new = place != now && (0.0..=1.0).contains(&place);
            let is_end = place == 0.0 || place == 1.0;
            // Ends are tried with the coarse step only.
            if is_new && (!is_end || self.step == 0) {
                boards.extend_from_slice(&self.units);
                let from = boards.len() - self.units.len();
                axis.put(&mut boards[from..], place);
            }
        }
        boards
    }

    /// Starts over with the first axis; returns whether there is anything left to try.
    fn next_round(&mut self) -> bool {
        self.axis = 0;
        self.round += 1;
        if !self.has_moved || self.round == ROUNDS {
            self.step += 1;
            self.round = 0;
        }
        self.has_moved = false;
        self.step < STEPS.len()
    }
}
