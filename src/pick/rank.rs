//! Which of two sets of parts is better.

use std::cmp::Ordering;

use crate::circuit::Kind;
use crate::stages::Model;

/// Misses within the same twentieth of the limits count as equal, so that parts that are easier to
/// buy win over a miss that no board would show.
pub const STEP: f64 = 0.05;

/// A set of parts' place in the order: worst miss (in steps), then number of distinct values, then
/// comfort; the miss itself decides what is left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rank {
    /// Worst miss over its limit, in units of [`STEP`], rounded up.
    pub step: u32,
    /// How many different values have to be bought.
    pub distinct: u32,
    /// Decades away from comfortable values, summed over the parts.
    pub discomfort: f64,
    /// Worst miss over its limit.
    pub miss: f64,
}

impl Rank {
    pub fn order(&self, other: &Rank) -> Ordering {
        self.step
            .cmp(&other.step)
            .then(self.distinct.cmp(&other.distinct))
            .then(self.discomfort.total_cmp(&other.discomfort))
            .then(self.miss.total_cmp(&other.miss))
    }
}

/// The step that a miss belongs to.
pub fn step_of(miss: f64) -> u32 {
    (miss / STEP).ceil().min(f64::from(u32::MAX)) as u32
}

/// Ranks a set of part values with its known miss.
pub fn rank(model: &Model, values: &[f64], miss: f64) -> Rank {
    let (distinct, discomfort) = bother(model, values);
    Rank {
        step: step_of(miss),
        distinct,
        discomfort,
        miss,
    }
}

/// Number of distinct values, and discomfort: decades outside 2 kΩ to 50 kΩ and 1 nF to 22 nF,
/// counted tenfold, and decades from 10 kΩ and 4.7 nF. Below, an op amp is loaded and capacitors drown in
/// strays; above, noise and leakage grow (common practice).
pub fn bother(model: &Model, values: &[f64]) -> (u32, f64) {
    let parts = model.netlist.parts();
    let mut distinct = 0;
    let mut discomfort = 0.0;
    for (index, part) in parts.iter().enumerate() {
        let (centre, low, high) = match part.kind {
            Kind::Resistor { .. } => (10e3, 2e3, 50e3),
            Kind::Capacitor { .. } => (4.7e-9, 1e-9, 22e-9),
            Kind::OpAmp { .. } => continue,
        };
        let value: f64 = values[index];
        let same_kind = |other: usize| {
            std::mem::discriminant(&parts[other].kind) == std::mem::discriminant(&part.kind)
        };
        if !(0..index).any(|other| same_kind(other) && values[other] == value) {
            distinct += 1;
        }
        let outside = (low / value).max(value / high).max(1.0);
        discomfort += (value / centre).log10().abs() + 10.0 * outside.log10();
    }
    (distinct, discomfort)
}
