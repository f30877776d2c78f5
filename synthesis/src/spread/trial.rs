//! The yield of a stage's boards and nothing else: for trying what would change it.
//!
//! Two trials with the same seed draw the same boards, whatever their tolerances and values: their
//! difference is then known much better than either yield (common random numbers; Law, "Simulation Modeling
//! and Analysis", ch. 11, from memory).

use std::task::Poll;

use super::{Draws, Population, Reader, Rows};
use crate::stages::Model;

/// Boards of a step.
const BLOCK: usize = 256;

/// A run that only judges: [`Trial::advance`] until it is done.
pub struct Trial {
    draws: Draws,
    boards: usize,
    /// Figures of the board as marked.
    nominal: Vec<f64>,
    verdict: Verdict,
}

/// Which boards hold every limit, in their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verdict(pub Vec<bool>);

impl Trial {
    /// `values` are the stage's parts as marked, in the netlist's order; `population` is of its own numbers.
    pub fn new(
        model: &Model,
        values: &[f64],
        population: Population,
        seed: u64,
        boards: usize,
    ) -> Trial {
        Trial {
            draws: Draws::new(population, seed),
            boards,
            nominal: model.figures(values, None, &mut Default::default()),
            verdict: Verdict::default(),
        }
    }

    /// Judges boards until all are done or `go_on` says no.
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        let stride = self.draws.population().variations.len();
        let mut numbers = vec![0.0; stride * BLOCK];
        let mut reader = Reader::new(model);
        let held = &mut self.verdict.0;
        while held.len() < self.boards {
            if !go_on() {
                return Poll::Pending;
            }
            let count = BLOCK.min(self.boards - held.len());
            self.draws
                .boards(held.len() as u64, &mut numbers[..count * stride]);
            let rows = Rows {
                numbers: &numbers[..count * stride],
                stride,
                first: 0,
            };
            reader.each(model, rows, &self.nominal, |_, read| {
                held.push(model.yardstick.keeps_all(read));
            });
        }
        Poll::Ready(())
    }

    /// What it has found.
    pub fn into_verdict(self) -> Verdict {
        self.verdict
    }
}

impl Verdict {
    /// The yield.
    pub fn share(&self) -> f64 {
        self.passed() as f64 / self.0.len().max(1) as f64
    }

    pub fn passed(&self) -> usize {
        self.0.iter().filter(|held| **held).count()
    }

    /// By how much the yield is above another's of the same boards, and the standard error of that.
    pub fn gain_over(&self, other: &Verdict) -> (f64, f64) {
        let n = self.0.len().min(other.0.len()).max(1) as f64;
        let pairs = self.0.iter().zip(&other.0);
        let (mut won, mut lost) = (0.0, 0.0);
        for (mine, theirs) in pairs {
            won += f64::from(*mine && !theirs);
            lost += f64::from(!mine && *theirs);
        }
        let gain = (won - lost) / n;
        // McNemar's test looks at the same two counts.
        let error = (((won + lost) / n - gain * gain) / n).max(0.0).sqrt();
        (gain, error)
    }
}

#[cfg(test)]
mod tests {
    use super::Verdict;

    #[test]
    fn differences_by_hand() {
        let a = Verdict(vec![true, true, true, false]);
        let b = Verdict(vec![true, false, false, true]);
        let (gain, error) = a.gain_over(&b);
        assert_eq!(gain, 0.25);
        // Differences 0, 1, 1, −1: mean 1/4, mean square 3/4.
        assert!((error - ((0.75 - 0.0625) / 4.0f64).sqrt()).abs() < 1e-15);
        assert_eq!((a.passed(), b.share()), (3, 0.5));
    }
}
