//! The values that each part may have.

use std::collections::BTreeMap;
use std::ops::Range;

use super::comfort::Weights;
use super::exact::Solution;
use crate::circuit::Part;
use crate::parts::Shelf;
use crate::stages::{Alike, Model};

/// Shelf values tried on each side of a solved part's exact value, by how many parts are solved: about
/// two hundred sets round each solution.
fn neighbours_each_side(solved: usize) -> usize {
    match solved {
        0..=3 => 3,
        4 => 2,
        _ => 1,
    }
}

/// Of more solved parts than this, the last take the nearest value only.
const BOTH_SIDES: usize = 8;

/// Part by part, in the netlist's order.
pub(super) struct Lists {
    /// Values that it may have, rising.
    pub values: Vec<Vec<f64>>,
    /// The same where nothing is pinned.
    free: Vec<Vec<f64>>,
    /// What each of them costs in comfort, see [`Weights::strain_of`].
    pub strains: Vec<Vec<f64>>,
    pub pinned: Vec<bool>,
    weights: Weights,
}

impl Lists {
    /// `pins` fixes parts to a value of any size; what is not bought has the one that it has.
    pub fn new(
        model: &Model,
        shelf: &Shelf,
        pins: &BTreeMap<usize, f64>,
        weights: &Weights,
    ) -> Lists {
        let parts = model.netlist.parts();
        let free: Vec<Vec<f64>> = parts
            .iter()
            .enumerate()
            .map(|(index, part)| match shelf.bin(part.kind) {
                Some(bin) if model.bought[index] => bin.values(),
                _ => vec![model.given(index)],
            })
            .collect();
        let mut values = free.clone();
        for (&index, &value) in pins {
            values[index] = vec![value];
        }
        let strains = values
            .iter()
            .zip(parts)
            .map(|(list, part)| {
                list.iter()
                    .map(|&v| weights.strain_of(part.kind, v))
                    .collect()
            })
            .collect();
        let pinned = (0..parts.len())
            .map(|index| pins.contains_key(&index))
            .collect();
        Lists {
            values,
            free,
            strains,
            pinned,
            weights: *weights,
        }
    }

    /// The same with nothing pinned.
    pub fn without_pins(&self, model: &Model) -> Lists {
        let parts = model.netlist.parts();
        let strains = |(list, part): (&Vec<f64>, &Part)| -> Vec<f64> {
            list.iter()
                .map(|&v| self.weights.strain_of(part.kind, v))
                .collect()
        };
        Lists {
            values: self.free.clone(),
            free: self.free.clone(),
            strains: self.free.iter().zip(parts).map(strains).collect(),
            pinned: vec![false; parts.len()],
            weights: self.weights,
        }
    }

    /// The one of parts that are alike whose value they all have: a pinned one if there is one.
    pub fn lead(&self, parts: Alike) -> usize {
        let pinned = parts.iter().copied().find(|&part| self.pinned[part]);
        pinned.unwrap_or(parts[0])
    }

    /// Gives parts that are alike a value, but for those that are pinned to another.
    pub fn put(&self, parts: Alike, value: f64, values: &mut [f64]) {
        for &part in parts {
            values[part] = if self.pinned[part] {
                self.values[part][0]
            } else {
                value
            };
        }
    }

    /// Each part's value nearest to these, parts that are alike together.
    pub fn on_the_shelf(&self, model: &Model, values: &[f64]) -> Vec<f64> {
        let mut set: Vec<f64> = (self.values.iter().zip(values))
            .map(|(list, &value)| list[nearest(list, value)])
            .collect();
        let grouping = model.stage.grouping();
        for groups in [grouping.chosen, grouping.free, grouping.solved] {
            for &parts in groups {
                self.put(parts, set[self.lead(parts)], &mut set);
            }
        }
        set
    }

    /// The set round a solution that a code stands for; its dividers as they are in the solution.
    pub fn around(&self, model: &Model, solution: &Solution, code: usize) -> Vec<f64> {
        let mut values = solution.values.clone();
        let near = self.neighbours(model, solution);
        let solved = model.stage.grouping().solved;
        for (&parts, at) in solved.iter().zip(coded(&near, code)) {
            let value = self.values[self.lead(parts)][at];
            self.put(parts, value, &mut values);
        }
        values
    }

    /// Where the shelf's values on both sides of each solved part's exact value stand in its list.
    pub fn neighbours(&self, model: &Model, solution: &Solution) -> Vec<Range<usize>> {
        let solved = model.stage.grouping().solved;
        let each_side = neighbours_each_side(solved.len());
        let near = |(index, parts): (usize, &Alike)| {
            let lead = self.lead(parts);
            let (list, value) = (&self.values[lead], solution.values[lead]);
            let at = list.partition_point(|v| *v < value);
            if index < BOTH_SIDES {
                return at.saturating_sub(each_side)..(at + each_side).min(list.len());
            }
            let nearest = nearest(list, value);
            nearest..nearest + 1
        };
        solved.iter().enumerate().map(near).collect()
    }
}

/// The place in a rising list of the value nearest to this, as a ratio.
pub(super) fn nearest(list: &[f64], value: f64) -> usize {
    let at = list.partition_point(|v| *v < value).min(list.len() - 1);
    match at.checked_sub(1) {
        Some(before) if value / list[before] < list[at] / value => before,
        _ => at,
    }
}

/// The places that a code stands for, one of each range; the first range's change fastest.
fn coded(ranges: &[Range<usize>], mut code: usize) -> impl Iterator<Item = usize> + use<'_> {
    ranges.iter().map(move |range| {
        let at = range.start + code % range.len();
        code /= range.len();
        at
    })
}
