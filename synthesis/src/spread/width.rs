//! The yield against the width of a figure's limits: a curve to read a limit off.

use serde::{Deserialize, Serialize};

use super::Misses;
use crate::stages::Figure;

/// Widths that are looked at, as multiples of the limits as they stand.
const MOST: f64 = 3.0;
const STEPS: usize = 150;

/// The share of boards that would be good if one figure's limits were wider or narrower and all others
/// as they are.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WidthCurve {
    /// Equal steps from 0: multiples of the way from the middle to the limit.
    pub width: Vec<f64>,
    pub share: Vec<f64>,
    /// Where 1 leads to: what the width counts from, and one such width.
    pub middle: f64,
    pub unit: f64,
}

/// Counts boards by the width of the limits that would just hold them.
pub struct Widths {
    figure: Figure,
    /// The bits of all other limits.
    others: Misses,
    middle: f64,
    unit: f64,
    counts: Vec<u32>,
    boards: u32,
}

impl Widths {
    /// `bit` is the figure's own among the misses. The middle is what is wanted, or what `nominal` says
    /// where a figure has only one limit and nothing wanted. None for a figure without a
    /// limit to widen, or whose middle misses it.
    pub fn new(figure: &Figure, bit: usize, nominal: f64) -> Option<Widths> {
        let middle = match (figure.wanted, figure.lowest, figure.highest) {
            (Some(wanted), ..) => wanted,
            (None, Some(low), Some(high)) => (low + high) / 2.0,
            _ => nominal,
        };
        let reach = |limit: Option<f64>| limit.map_or(0.0, |limit| (limit - middle).abs());
        let unit = reach(figure.lowest).max(reach(figure.highest));
        let is_inside = figure.holds(middle);
        (figure.is_limited() && is_inside && unit > 0.0 && unit.is_finite()).then(|| Widths {
            figure: figure.clone(),
            others: !(1 << bit),
            middle,
            unit,
            counts: vec![0; STEPS + 1],
            boards: 0,
        })
    }

    /// Counts boards: their values of the figure, and the limits that each misses.
    pub fn add(&mut self, values: &[f64], missed: &[Misses]) {
        for (&value, missed) in values.iter().zip(missed) {
            self.boards += 1;
            if missed & self.others != 0 || value.is_nan() {
                continue;
            }
            // Where nothing limits a side, going there costs nothing.
            let off = value - self.middle;
            let beyond = match (off < 0.0, self.figure.lowest, self.figure.highest) {
                (true, Some(low), _) => off / (low - self.middle),
                (false, _, Some(high)) => off / (high - self.middle),
                _ => 0.0,
            };
            let step = (beyond.max(0.0) / MOST * STEPS as f64).ceil();
            if let Some(count) = self.counts.get_mut(step as usize) {
                *count += 1;
            }
        }
    }

    pub fn curve(&self) -> WidthCurve {
        let mut held = 0u32;
        let share = self.counts.iter().map(|count| {
            held += count;
            f64::from(held) / f64::from(self.boards.max(1))
        });
        WidthCurve {
            share: share.collect(),
            width: (0..=STEPS)
                .map(|k| MOST * k as f64 / STEPS as f64)
                .collect(),
            middle: self.middle,
            unit: self.unit,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Widths;
    use crate::quantity::Unit;
    use crate::stages::Figure;

    #[test]
    fn boards_counted_by_hand() {
        let figure = Figure::told("f", "F", Unit::One, "")
            .wanted(10.0)
            .within(8.0, 12.0);
        let mut widths = Widths::new(&figure, 0, 10.0).expect("limits");
        // Needs half, all, twice of the limits; misses another; cannot be read.
        widths.add(&[9.0, 12.0, 14.0, 10.0, f64::NAN], &[0, 0, 1, 2, 1]);
        let curve = widths.curve();
        let at = |width: f64| curve.share[(width / 3.0 * 150.0).round() as usize];
        assert_eq!(
            [0.4, 0.5, 1.0, 1.98, 2.0].map(at),
            [0.0, 0.2, 0.4, 0.4, 0.6]
        );
    }
}
