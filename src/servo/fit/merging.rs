//! Two modes closer than their widths: one, unless the sweep demands two.

use super::data::Data;
use super::descent::{COARSE, Descent};
use super::judge::{Criterion, EXCLUDED};
use crate::servo::Mode;

/// Most steps of a model with one mode less.
const MOST_STEPS: u32 = 30;

/// Trying, in pieces, one mode in the place of each pair of twins.
#[derive(Clone, Debug)]
pub(super) struct Merging {
    pub best: Descent,
    /// Pairs still to be tried.
    pairs: Vec<(usize, usize)>,
    attempt: Option<Descent>,
}

impl Merging {
    pub fn new(best: Descent) -> Merging {
        let free = |k: usize| {
            let free = best.free.modes[k];
            free.frequency && free.damping && free.residue
        };
        let pairs = best
            .model
            .twins()
            .into_iter()
            .filter(|(a, b)| free(*a) && free(*b));
        Merging {
            pairs: pairs.collect(),
            best,
            attempt: None,
        }
    }

    /// A small piece; `false` when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> bool {
        if let Some(attempt) = &mut self.attempt {
            if !attempt.step(data)
                && let Some(merged) = self.attempt.take()
            {
                let both = [self.best.clone(), merged];
                let criterion = Criterion::of(&both, data);
                let [two, one] = both;
                if criterion.score(&one) <= criterion.score(&two) + EXCLUDED {
                    *self = Merging::new(one);
                }
            }
            return true;
        }
        let Some((a, b)) = self.pairs.pop() else {
            return false;
        };
        self.attempt = Some(merged(&self.best, a, b, data));
        true
    }
}

/// One mode for two, with a slope, which can make up for a difference of their phases.
fn merged(best: &Descent, a: usize, b: usize, data: &Data) -> Descent {
    let mut one = best.clone();
    let (first, second) = (one.model.modes[a], one.model.modes[b]);
    let weight = |mode: Mode| mode.height() + f64::MIN_POSITIVE;
    let share = weight(first) / (weight(first) + weight(second));
    one.model.modes[a] = Mode {
        frequency: first.frequency * share + second.frequency * (1.0 - share),
        damping: first.damping.max(second.damping),
        ..first
    };
    one.free.modes[a].slope = true;
    one.model.modes.remove(b);
    one.free.modes.remove(b);
    one.resume(COARSE, data);
    one.at_most(MOST_STEPS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::servo::fit::settings::Free;
    use crate::servo::fit::terms::Limits;
    use crate::servo::{Model, Rigid};
    use num_complex::Complex64;
    use std::f64::consts::TAU;

    fn mode(frequency: f64, residue: f64) -> Mode {
        Mode {
            frequency,
            damping: 0.02,
            residue,
            slope: 0.0,
        }
    }

    fn ended(truth: &Model, start: Model) -> usize {
        let omega: Vec<f64> = (0..300).map(|i| 0.3 * 1.01f64.powi(i)).collect();
        let response: Vec<Complex64> = omega
            .iter()
            .enumerate()
            .map(|(i, w)| truth.at(w / TAU) * (1.0 + 0.01 * Complex64::cis(i as f64 * 1.7)))
            .collect();
        let data = Data {
            weight: response.iter().map(|p| 1.0 / p.norm()).collect(),
            trust: vec![1.0; response.len()],
            omega,
            response,
        };
        let free = Free::usual(&start);
        let mut best = Descent::new(start, free, Limits::of(&data), &data);
        while best.step(&data) {}
        let mut merging = Merging::new(best);
        while merging.step(&data) {}
        merging.best.model.modes.len()
    }

    #[test]
    fn one_mode_seen_twice_becomes_one_and_two_stay_two() {
        let with = |modes: Vec<Mode>| Model {
            rigid: Some(Rigid::new(0, 0.1)),
            modes,
            ..Model::default()
        };
        let twice = vec![mode(0.159, 0.1), mode(0.1592, -0.05)];
        assert_eq!(ended(&with(vec![mode(0.16, 0.05)]), with(twice)), 1);
        let two = with(vec![mode(0.158, 0.05), mode(0.163, -0.04)]);
        assert_eq!(ended(&two, two.clone()), 2);
    }
}
