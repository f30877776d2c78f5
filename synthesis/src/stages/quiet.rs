//! A limit on the noise at a stage's output, as a figure among the others.
//!
//! Noise cannot be read off a response. It is worked out for one set of parts, and near that set the rms is taken to go with
//! powers of the parts' values: exact for the set itself, of first order in the logarithms beside it.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::yardstick::{Figure, Seen, Terms, Yardstick};
use crate::quantity::Unit;
use crate::response::Transfer;

/// Noise at a stage's output near a set of parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseRule {
    /// Of the set itself, V rms.
    pub rms: f64,
    /// Largest allowed, V rms.
    pub limit: f64,
    /// The numbers that the stage's programs take for that set.
    pub numbers: Vec<f64>,
    /// The rms's power in each of them; 0 where it does not hang on it.
    pub powers: Vec<f64>,
}

impl NoiseRule {
    /// With these numbers, V rms; NaN where there are none.
    pub fn at(&self, numbers: &[f64]) -> f64 {
        if numbers.len() != self.numbers.len() {
            return f64::NAN;
        }
        let all = self.numbers.iter().zip(numbers).zip(&self.powers);
        let moved = all.map(|((own, number), power)| match *power {
            0.0 => 0.0,
            // An ideal op amp's are 0.
            _ if *number <= 0.0 || *own <= 0.0 => 0.0,
            power => power * (number / own).ln(),
        });
        self.rms * moved.sum::<f64>().exp()
    }
}

/// A yardstick with the noise as its last figure.
pub(super) struct Quiet {
    inner: Arc<dyn Yardstick>,
    figures: Vec<Figure>,
    shape: Terms,
    rule: Arc<NoiseRule>,
}

impl Quiet {
    pub fn new(inner: Arc<dyn Yardstick>, rule: Arc<NoiseRule>) -> Quiet {
        let mut figures = inner.figures().to_vec();
        figures.push(Figure {
            highest: Some(rule.limit),
            ..Figure::told(
                "output-noise",
                "Output noise",
                Unit::Volt,
                "Noise of the stage's own parts at its output over the noise band, rms; on boards of first order.",
            )
        });
        let mut shape = inner.term_shape().clone();
        shape.groups.push(1);
        Quiet {
            inner,
            figures,
            shape,
            rule,
        }
    }

    /// Its own figures without the noise.
    fn of_response(&self) -> usize {
        self.figures.len() - 1
    }

    /// The noise over its limit.
    fn term(&self, seen: Seen) -> f64 {
        self.rule.at(seen.numbers) / self.rule.limit
    }
}

impl Yardstick for Quiet {
    fn figures(&self) -> &[Figure] {
        &self.figures
    }

    fn read(&self, seen: Seen, hint: Option<&[f64]>, figures: &mut [f64]) {
        let count = self.of_response();
        let hint = hint.map(|hint| &hint[..count]);
        self.inner.read(seen, hint, &mut figures[..count]);
        figures[count] = self.rule.at(seen.numbers);
    }

    fn term_shape(&self) -> &Terms {
        &self.shape
    }

    fn terms(&self, seen: Seen, hint: Option<&[f64]>, terms: &mut [f64]) {
        let hint = hint.map(|hint| &hint[..self.of_response()]);
        let last = terms.len() - 1;
        self.inner.terms(seen, hint, &mut terms[..last]);
        terms[last] = self.term(seen);
    }

    fn least_miss(&self, seen: Seen) -> f64 {
        self.inner.least_miss(seen).max(self.term(seen))
    }

    fn goal(&self, sign: f64) -> Option<Transfer> {
        self.inner.goal(sign)
    }

    fn reads_numbers(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_of_the_numbers() {
        let rule = NoiseRule {
            rms: 1e-6,
            limit: 2e-6,
            numbers: vec![1e3, 1e-9, 1e-6],
            powers: vec![0.5, 0.0, 0.1],
        };
        assert!((rule.at(&[4e3, 5e-9, 1e-6]) / 2e-6 - 1.0).abs() < 1e-12);
        // With an ideal op amp it is that of the same parts.
        assert!((rule.at(&[1e3, 1e-9, 0.0]) / 1e-6 - 1.0).abs() < 1e-12);
        assert!(rule.at(&[1e3]).is_nan());
    }
}
