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
    /// Worst miss over its limit, in units of [`STEP`], rounded down.
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
    (miss / STEP).min(1e9) as u32
}

/// Ranks a set of part values with its known miss.
pub fn rank(model: &Model, values: &[f64], miss: f64) -> Rank {
    let all: Vec<usize> = (0..values.len()).collect();
    let (distinct, discomfort) = bother(model, values, &all);
    Rank {
        step: step_of(miss),
        distinct,
        discomfort,
        miss,
    }
}

/// How far a value is from comfortable: decades from 10 kΩ or 4.7 nF, and ten times the decades
/// outside 2 kΩ to 50 kΩ or 1 nF to 22 nF. Below, an op amp is loaded and capacitors drown in strays;
/// above, noise, leakage and size grow (common practice).
pub fn discomfort_of(kind: Kind, value: f64) -> f64 {
    let (centre, low, high): (f64, f64, f64) = match kind {
        Kind::Resistor { .. } => (10e3, 2e3, 50e3),
        Kind::Capacitor { .. } => (4.7e-9, 1e-9, 22e-9),
        Kind::OpAmp { .. } => return 0.0,
    };
    let outside = (low / value).max(value / high).max(1.0);
    (value / centre).log10().abs() + 10.0 * outside.log10()
}

/// Number of different values among the parts at these positions.
fn distinct(model: &Model, values: &[f64], among: &[usize]) -> u32 {
    let kind = |index: usize| model.netlist.parts()[index].kind;
    let is_new = |seen: usize, index: usize| {
        let same = |&other: &usize| {
            model.bought[other]
                && kind(other).is_like(kind(index))
                && values[other] == values[index]
        };
        model.bought[index] && !among[..seen].iter().any(same)
    };
    let new = among
        .iter()
        .enumerate()
        .filter(|&(seen, &index)| is_new(seen, index));
    new.count() as u32
}

/// Number of different values, and discomfort, of the parts at these positions.
pub fn bother(model: &Model, values: &[f64], among: &[usize]) -> (u32, f64) {
    let kind = |index: usize| model.netlist.parts()[index].kind;
    let discomfort = among
        .iter()
        .filter(|&&index| model.bought[index])
        .map(|&index| discomfort_of(kind(index), values[index]))
        .sum();
    (distinct(model, values, among), discomfort)
}
