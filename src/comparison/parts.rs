//! Where the parts of two designs differ.

use super::Side;
use super::align::{Pair, pairs};
use crate::outcome::{PartOutcome, StageOutcome};
use crate::quantity::Unit;

/// A part that is not the same in both designs; or that only one of them has.
#[derive(Clone, Debug, PartialEq)]
pub struct PartDifference {
    /// Places of its stage in the two paths, from 0.
    pub stage: Pair,
    /// Designator.
    pub name: String,
    pub unit: Unit,
    /// Bought values, SI.
    pub now: Option<f64>,
    pub copy: Option<f64>,
}

/// All of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartDifferences {
    pub rows: Vec<PartDifference>,
    /// Parts with the same value in both.
    pub same: usize,
}

/// Compares the bought parts, stage by stage. Parts of another circuit are other parts, though they go by the same
/// names: both lists are told then.
pub fn parts(now: &Side, copy: &Side) -> PartDifferences {
    let mut found = PartDifferences::default();
    for pair in pairs(&now.design.stages, &copy.design.stages) {
        let (a, b) = (of(now, pair.now), of(copy, pair.copy));
        let is_waiting =
            |place: Option<usize>, stage: Option<&StageOutcome>| place.is_some() && stage.is_none();
        if is_waiting(pair.now, a) || is_waiting(pair.copy, b) {
            continue;
        }
        match (a, b) {
            (Some(a), Some(b)) if a.circuit == b.circuit => found.of_one(pair, a, b),
            (a, b) => {
                for part in a.into_iter().flat_map(|stage| &stage.parts) {
                    found.put(pair, part, Some(part.value), None);
                }
                for part in b.into_iter().flat_map(|stage| &stage.parts) {
                    found.put(pair, part, None, Some(part.value));
                }
            }
        }
    }
    found
}

fn of<'a>(side: &Side<'a>, place: Option<usize>) -> Option<&'a StageOutcome> {
    side.stages.get(place?).copied()
}

impl PartDifferences {
    /// The same circuit with two sets of parts.
    fn of_one(&mut self, pair: Pair, now: &StageOutcome, copy: &StageOutcome) {
        for (a, b) in now.parts.iter().zip(&copy.parts) {
            match a.value == b.value {
                true => self.same += 1,
                false => self.put(pair, a, Some(a.value), Some(b.value)),
            }
        }
    }

    fn put(&mut self, stage: Pair, part: &PartOutcome, now: Option<f64>, copy: Option<f64>) {
        self.rows.push(PartDifference {
            stage,
            name: part.name.clone(),
            unit: part.unit,
            now,
            copy,
        });
    }
}
