//! Which modes are resonances, and which of them go together.

use super::{Mode, Model};
use crate::numerics::put_in_order;

/// A mode damped more has hardly a peak: below 1.25 dB, by 1/(2ζ·√(1 − ζ²)).
const MOST_DAMPED: f64 = 0.5;

impl Mode {
    /// Whether the mode rings. One that does not is a lag of the plant: no notch is put on it, no supply line excites
    /// it, and it does not drift by itself.
    pub fn is_resonance(&self) -> bool {
        self.damping <= MOST_DAMPED
    }
}

impl Model {
    /// The resonances, those together whose half-power bands overlap: a sweep tells them apart badly, and what moves
    /// one moves its twin.
    pub fn companies(&self) -> Vec<Vec<usize>> {
        let mut order: Vec<usize> = (0..self.modes.len())
            .filter(|k| self.modes[*k].is_resonance())
            .collect();
        put_in_order(&mut order, |a, b| {
            let frequency = |k: &usize| self.modes[*k].frequency;
            frequency(a).total_cmp(&frequency(b))
        });
        let mut companies: Vec<Vec<usize>> = Vec::new();
        for k in order {
            let last = companies.last_mut();
            match last.filter(|company| self.overlap(company[company.len() - 1], k)) {
                Some(company) => company.push(k),
                None => companies.push(vec![k]),
            }
        }
        companies
    }

    /// Pairs of resonances that overlap.
    pub fn twins(&self) -> Vec<(usize, usize)> {
        let companies = self.companies();
        let pairs = companies.iter().flat_map(|company| company.windows(2));
        pairs.map(|pair| (pair[0], pair[1])).collect()
    }

    fn overlap(&self, one: usize, other: usize) -> bool {
        let (one, other) = (self.modes[one], self.modes[other]);
        let half = |mode: Mode| mode.damping * mode.frequency;
        (one.frequency - other.frequency).abs() < half(one) + half(other)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twins_go_together_and_lags_are_no_resonances() {
        let mode = |frequency: f64, damping: f64| Mode {
            frequency,
            damping,
            residue: 1.0,
            slope: 0.0,
        };
        let model = Model {
            modes: vec![
                mode(30.0, 0.8),
                mode(1005.0, 0.01),
                mode(1000.0, 0.01),
                mode(2000.0, 0.01),
            ],
            ..Model::default()
        };
        assert_eq!(model.companies(), [vec![2, 1], vec![3]]);
        assert_eq!(model.twins(), [(2, 1)]);
    }
}
