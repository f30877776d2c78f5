//! The directions in which a set of values may move.

use crate::stages::{Alike, Model};

/// A divider's fraction stays so far from 0 and 1: further than any two resistors reach.
const END: f64 = 1e-7;

/// A direction in which values may move: the logarithm of parts that are alike, or a divider's
/// fraction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    Parts(Alike),
    /// One half of a divider by itself.
    Half(usize),
    /// The fraction lower/(upper + lower), reached by the lower part, or by the upper one when the
    /// lower is pinned.
    Divider {
        upper: usize,
        lower: usize,
        by_upper: bool,
    },
}

impl Move {
    /// Where the move stands: ln of a value, or a fraction.
    pub fn position(self, values: &[f64]) -> f64 {
        match self {
            Move::Parts(parts) => values[parts[0]].ln(),
            Move::Half(part) => values[part].ln(),
            Move::Divider { upper, lower, .. } => values[lower] / (values[upper] + values[lower]),
        }
    }

    /// Takes a position as [`Move::position`] tells it.
    pub fn set(self, values: &mut [f64], position: f64) {
        match self {
            Move::Parts(parts) => {
                (parts.iter()).for_each(|&part| values[part] = position.exp());
            }
            Move::Half(part) => values[part] = position.exp(),
            Move::Divider { .. } => {
                let by = position - self.position(values);
                self.go(values, by);
            }
        }
    }

    /// Moves by `step` in units of [`Move::position`]; a fraction stays inside (0, 1).
    pub fn go(self, values: &mut [f64], step: f64) {
        match self {
            Move::Parts(parts) => {
                let factor = step.clamp(-3.0, 3.0).exp();
                parts.iter().for_each(|&part| values[part] *= factor);
            }
            Move::Half(part) => values[part] *= step.clamp(-3.0, 3.0).exp(),
            Move::Divider {
                upper,
                lower,
                by_upper,
            } => {
                let k = self.position(values);
                // Where nothing could be solved, nothing moves.
                if !(k + step).is_finite() {
                    return;
                }
                let k = (k + step).clamp(k / 4.0, 1.0 - (1.0 - k) / 4.0);
                let k = k.clamp(END, 1.0 - END);
                if by_upper {
                    values[upper] = values[lower] * (1.0 - k) / k;
                } else {
                    values[lower] = values[upper] * k / (1.0 - k);
                }
            }
        }
    }
}

/// The moves that a stage's grouping leaves when some parts are pinned (`pinned[part]`).
pub fn moves(model: &Model, pinned: &[bool]) -> Vec<Move> {
    let grouping = model.stage.grouping();
    let dividers = grouping
        .dividers
        .iter()
        .filter(|(upper, lower)| !(pinned[*upper] && pinned[*lower]))
        .map(|&(upper, lower)| Move::Divider {
            upper,
            lower,
            by_upper: pinned[lower],
        });
    of_groups(grouping.solved, pinned).chain(dividers).collect()
}

/// Every part by itself, or with those that are alike: the halves of a divider too, whose level a slow op amp feels.
pub(super) fn all_moves(model: &Model, pinned: &[bool]) -> Vec<Move> {
    let grouping = model.stage.grouping();
    let halves = grouping.dividers.iter();
    let halves = halves
        .flat_map(|&(upper, lower)| [upper, lower])
        .filter(|part| !pinned[*part])
        .map(Move::Half);
    of_groups(grouping.chosen, pinned)
        .chain(of_groups(grouping.free, pinned))
        .chain(of_groups(grouping.solved, pinned))
        .chain(halves)
        .collect()
}

fn of_groups<'a>(groups: &'a [Alike], pinned: &'a [bool]) -> impl Iterator<Item = Move> + 'a {
    groups
        .iter()
        .copied()
        .filter(|parts| !parts.iter().any(|&p| pinned[p]))
        .map(Move::Parts)
}
