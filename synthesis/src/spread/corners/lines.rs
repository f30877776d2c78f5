//! Monotonicity test: lines along the axes of the tolerance region, through random boards.

use std::task::Poll;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::look::Look;
use crate::spread::Figures;

/// Boards by chance through which lines go, one along each axis.
const BOARDS: usize = 24;
/// Of these, so many are corners: one in three.
const CORNERS: usize = 3;
/// Boards on a line, evenly from end to end.
const POINTS: usize = 9;
/// A turn by less than this share of the figure's range is no turn.
const LEAST: f64 = 1e-4;

/// How a figure goes along an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Bend {
    /// It rises on some line, it falls on some line.
    pub rises: bool,
    pub falls: bool,
    /// It turns round on some line, or cannot be read there.
    pub turns: bool,
}

/// Where it stands: [`Lines::step`] until it says that it is done.
pub struct Lines {
    /// `[figure][axis]`
    pub bends: Vec<Vec<Bend>>,
    /// Lines that were looked at.
    pub lines: u32,
    through: Vec<f64>,
    axis: usize,
    boards: usize,
    random: ChaCha8Rng,
}

impl Lines {
    pub fn new(seed: u64) -> Lines {
        Lines {
            bends: Vec::new(),
            lines: 0,
            through: Vec::new(),
            axis: 0,
            boards: 0,
            random: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    pub fn progress(&self) -> f64 {
        self.boards as f64 / BOARDS as f64
    }

    /// Reads one line; ready when all is done.
    pub fn step(&mut self, look: &mut Look, figures: &mut dyn Figures) -> Poll<()> {
        self.bends
            .resize_with(figures.count(), || vec![Bend::default(); look.axes.len()]);
        if self.boards == BOARDS || look.axes.is_empty() {
            return Poll::Ready(());
        }
        if self.axis == 0 {
            self.through = look.board(0.5);
            for axis in &look.axes {
                let chance = (f64::from(self.random.next_u32()) + 0.5) / 4_294_967_296.0;
                let place = if self.boards.is_multiple_of(CORNERS) {
                    chance.round()
                } else {
                    chance
                };
                axis.put(&mut self.through, place);
            }
        }
        let mut boards = Vec::with_capacity(POINTS * self.through.len());
        for point in 0..POINTS {
            let mut units = self.through.clone();
            let place = point as f64 / (POINTS - 1) as f64;
            look.axes[self.axis].put(&mut units, place);
            boards.extend_from_slice(&units);
        }
        let read = look.read(figures, &boards, false);
        for (figure, bends) in self.bends.iter_mut().enumerate() {
            let along = read.iter().skip(figure).step_by(figures.count());
            bends[self.axis].see(along.copied(), LEAST * look.seen[figure].span());
        }
        self.lines += 1;
        self.axis += 1;
        if self.axis == look.axes.len() {
            self.axis = 0;
            self.boards += 1;
        }
        Poll::Pending
    }
}

impl Bend {
    /// Values along a line; changes of less than `least` do not count.
    fn see(&mut self, along: impl Iterator<Item = f64>, least: f64) {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        let (mut rises, mut falls) = (0.0f64, 0.0f64);
        for value in along {
            self.turns |= value.is_nan();
            low = low.min(value);
            high = high.max(value);
            rises = rises.max(value - low);
            falls = falls.max(high - value);
        }
        let (rises, falls) = (rises > least, falls > least);
        self.rises |= rises;
        self.falls |= falls;
        self.turns |= rises && falls;
    }
}

#[cfg(test)]
mod tests {
    use super::Bend;

    #[test]
    fn along_three_lines() {
        let mut bend = Bend::default();
        bend.see([1.0, 2.0, 1.999, 3.0].into_iter(), 0.01);
        assert_eq!((bend.rises, bend.falls, bend.turns), (true, false, false));
        bend.see([3.0, 1.0].into_iter(), 0.01);
        assert_eq!((bend.rises, bend.falls, bend.turns), (true, true, false));
        bend.see([3.0, 1.0, 2.0].into_iter(), 0.01);
        assert!(bend.turns);
    }
}
