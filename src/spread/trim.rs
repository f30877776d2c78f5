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
        let TrimWish {
            number,
            figure,
            wanted,
        } = self.wish;
        let as_built: Vec<f64> = numbers
            .chunks_exact(stride)
            .map(|row| row[number])
            .collect();
        let count = as_built.len();
        let mut read = |numbers: &[f64]| -> (Vec<f64>, Vec<bool>) {
            let rows = Rows {
                numbers,
                stride,
                first: 0,
            };
            let (mut off, mut holds) = (vec![f64::NAN; count], vec![false; count]);
            reader.each(model, rows, &self.nominal, |board, figures| {
                off[board] = figures[figure] - wanted;
                holds[board] = model.yardstick.keeps_all(figures);
            });
            (off, holds)
        };
        let (first, held) = read(numbers);
        let most = FARTHEST.ln();
        let mut before: Vec<(f64, f64)> = first.iter().map(|off| (0.0, *off)).collect();
        // A first look a little to one side, then the secant.
        let mut now = vec![0.02f64; count];
        let mut best: Vec<(f64, f64, bool)> =
            (0..count).map(|k| (0.0, first[k], held[k])).collect();
        for _ in 0..STEPS {
            for (row, (built, ln)) in numbers
                .chunks_exact_mut(stride)
                .zip(as_built.iter().zip(&now))
            {
                row[number] = built * ln.exp();
            }
            let (off, holds) = read(numbers);
            for k in 0..count {
                let at = (now[k], off[k]);
                if off[k].abs() < best[k].1.abs() || best[k].1.is_nan() {
                    best[k] = (now[k], off[k], holds[k]);
                }
                let slope = (at.1 - before[k].1) / (at.0 - before[k].0);
                let next = at.0 - at.1 / slope;
                before[k] = at;
                if next.is_finite() {
                    now[k] = next.clamp(-most, most);
                }
            }
        }
        let trimmed = |k: usize| {
            let (ln, off, holds) = best[k];
            let is_there = off.abs() <= 1e-3 * first[k].abs().max(1e-9 * wanted.abs());
            Trimmed {
                factor: if is_there { ln.exp() } else { f64::NAN },
                holds: is_there && holds,
            }
        };
        (0..count).map(trimmed).collect()
    }

    /// What became of each board, in their order.
    pub fn trimmed(&self) -> &[Trimmed] {
        &self.trimmed
    }
}
