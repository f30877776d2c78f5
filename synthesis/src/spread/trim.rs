//! Trimming: one part of each built board is turned until one figure is where it is wanted, or as far as the
//! part goes.

use std::task::Poll;

use super::{Draws, Population, Reader, Rows};
use crate::stages::Model;

/// How far a part may be turned to look for the figure, as a factor either way.
const FARTHEST: f64 = 2.0;
/// Steps of the secant method; the figure is then within a thousandth of its first miss, or out of reach.
const STEPS: usize = 8;
const BLOCK: usize = 64;

/// Which part is turned, and what for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrimWish {
    /// Its place among the numbers of a board.
    pub number: usize,
    /// The figure's place among the stage's.
    pub figure: usize,
    /// Where it is wanted.
    pub wanted: f64,
}

/// A run over boards that are trimmed one by one: [`TrimRun::advance`] until it is done, and then
/// [`TrimRun::judge`] with how far the part can be turned.
pub struct TrimRun {
    wish: TrimWish,
    draws: Draws,
    boards: usize,
    nominal: Vec<f64>,
    trimmed: Vec<Trimmed>,
    /// Whether each board holds every limit, as far as they are judged.
    judged: Vec<bool>,
}

/// One board, trimmed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trimmed {
    /// What the part was turned by, as a factor; NaN where the figure cannot be brought there.
    pub factor: f64,
    /// Whether every limit holds then.
    pub holds: bool,
}

impl TrimRun {
    pub fn new(
        model: &Model,
        values: &[f64],
        population: Population,
        seed: u64,
        boards: usize,
        wish: TrimWish,
    ) -> TrimRun {
        TrimRun {
            wish,
            draws: Draws::new(population, seed),
            boards,
            nominal: model.figures(values, None, &mut Default::default()),
            trimmed: Vec::new(),
            judged: Vec::new(),
        }
    }

    /// Trims boards until all are done or `go_on` says no.
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        let stride = self.draws.population().variations.len();
        let mut numbers = vec![0.0; stride * BLOCK];
        let mut reader = Reader::new(model);
        while self.trimmed.len() < self.boards {
            if !go_on() {
                return Poll::Pending;
            }
            let count = BLOCK.min(self.boards - self.trimmed.len());
            self.draws
                .boards(self.trimmed.len() as u64, &mut numbers[..count * stride]);
            let found = self.trim(model, &mut reader, &mut numbers[..count * stride], stride);
            self.trimmed.extend(found);
        }
        Poll::Ready(())
    }

    /// Judges boards with a part that turns by a factor between `low` and `high` and no further, until all are
    /// done or `go_on` says no. A board that wants more is left at the end of the range that
    /// brings its figure nearer.
    pub fn judge(
        &mut self,
        model: &Model,
        (low, high): (f64, f64),
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        let TrimWish {
            number,
            figure,
            wanted,
        } = self.wish;
        let mut numbers = vec![0.0; 2 * self.draws.population().variations.len()];
        let stride = numbers.len() / 2;
        let mut reader = Reader::new(model);
        while self.judged.len() < self.trimmed.len() {
            let board = self.judged.len();
            let Trimmed { factor, holds } = self.trimmed[board];
            if (low..=high).contains(&factor) {
                self.judged.push(holds);
                continue;
            }
            if !go_on() {
                return Poll::Pending;
            }
            // The same board twice, turned to either end.
            let (one, other) = numbers.split_at_mut(stride);
            self.draws.board(board as u64, one);
            other.copy_from_slice(one);
            one[number] *= low;
            other[number] *= high;
            let rows = Rows {
                numbers: &numbers,
                stride,
                first: 0,
            };
            let mut nearest = (f64::INFINITY, false);
            reader.each(model, rows, &self.nominal, |_, figures| {
                let off = (figures[figure] - wanted).abs();
                if off < nearest.0 {
                    nearest = (off, model.yardstick.keeps_all(figures));
                }
            });
            self.judged.push(nearest.1);
        }
        Poll::Ready(())
    }

    /// The share of boards that [`TrimRun::judge`] found to hold every limit.
    pub fn share(&self) -> f64 {
        let good = self.judged.iter().filter(|holds| **holds).count();
        good as f64 / self.judged.len().max(1) as f64
    }

    /// Trims a block of boards side by side: a secant each, on the logarithm of the factor.
    fn trim(
        &self,
        model: &Model,
        reader: &mut Reader,
        numbers: &mut [f64],
        stride: usize,
    ) -> Vec<Trimmed> {
        let TrimWish { number, wanted, .. } = self.wish;
        let as_built: Vec<f64> = numbers
            .chunks_exact(stride)
            .map(|row| row[number])
            .collect();
        let first = self.look(model, reader, numbers, stride);
        let mut secants: Vec<Secant> = first.iter().map(|&look| Secant::new(look)).collect();
        for _ in 0..STEPS {
            let turned = as_built.iter().zip(&secants);
            for (row, (built, secant)) in numbers.chunks_exact_mut(stride).zip(turned) {
                row[number] = built * secant.now.exp();
            }
            let looks = self.look(model, reader, numbers, stride);
            for (secant, look) in secants.iter_mut().zip(looks) {
                secant.learn(look);
            }
        }
        let trimmed = |(secant, first): (&Secant, &Look)| {
            let (ln, Look { off, holds }) = secant.best;
            let is_there = off.abs() <= 1e-3 * first.off.abs().max(1e-9 * wanted.abs());
            Trimmed {
                factor: if is_there { ln.exp() } else { f64::NAN },
                holds: is_there && holds,
            }
        };
        secants.iter().zip(&first).map(trimmed).collect()
    }

    /// Reads a block of boards as they stand.
    fn look(
        &self,
        model: &Model,
        reader: &mut Reader,
        numbers: &[f64],
        stride: usize,
    ) -> Vec<Look> {
        let TrimWish { figure, wanted, .. } = self.wish;
        let rows = Rows {
            numbers,
            stride,
            first: 0,
        };
        let mut looks = vec![Look::NONE; numbers.len() / stride];
        reader.each(model, rows, &self.nominal, |board, figures| {
            looks[board] = Look {
                off: figures[figure] - wanted,
                holds: model.yardstick.keeps_all(figures),
            };
        });
        looks
    }

    /// What became of each board, in their order.
    pub fn trimmed(&self) -> &[Trimmed] {
        &self.trimmed
    }
}

/// What was read of a board.
#[derive(Clone, Copy)]
struct Look {
    /// By how much the figure misses where it is wanted; NaN where it cannot be read.
    off: f64,
    /// Whether every limit holds.
    holds: bool,
}

impl Look {
    const NONE: Look = Look {
        off: f64::NAN,
        holds: false,
    };
}

/// The search on one board, by logarithms of the factor.
struct Secant {
    /// Where it looks next.
    now: f64,
    /// Where it looked last, and how far off the figure was.
    before: (f64, f64),
    /// Where it came nearest.
    best: (f64, Look),
}

impl Secant {
    /// From the board as it is built; the first step is a little to one side.
    fn new(built: Look) -> Secant {
        Secant {
            now: 0.02,
            before: (0.0, built.off),
            best: (0.0, built),
        }
    }

    /// Takes in what was read where it looked.
    fn learn(&mut self, look: Look) {
        let most = FARTHEST.ln();
        let best = self.best.1.off;
        if look.off.abs() < best.abs() || best.is_nan() {
            self.best = (self.now, look);
        }
        let at = (self.now, look.off);
        let slope = (at.1 - self.before.1) / (at.0 - self.before.0);
        let next = at.0 - at.1 / slope;
        self.before = at;
        if next.is_finite() {
            self.now = next.clamp(-most, most);
        }
    }
}
