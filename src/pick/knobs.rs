//! The parts that can be moved along the shelf, one by one or those that are alike together, and the ways to move
//! them from one set to the next.

use super::lists::{Lists, nearest};
use crate::circuit::Kind;
use crate::stages::Model;

/// How far a part is moved at once, in places of its list.
const STRIDES: [isize; 5] = [1, 2, 4, 9, 20];
/// Factors by which the level of impedance is moved, resistors up and capacitors down.
const LEVELS: [f64; 6] = [1.2, 1.47, 2.15, 4.7, 10.0, 22.0];

/// Parts that have one value each; the halves of a divider move by themselves.
pub(super) struct Knobs(Vec<Vec<usize>>);

/// Where the knobs stand, each in its list.
pub(super) type Places = Vec<usize>;

impl Knobs {
    /// All but those that are pinned, whose fellows stand still with them.
    pub fn new(model: &Model, lists: &Lists) -> Knobs {
        let grouping = model.stage.grouping();
        let groups = grouping.chosen.iter().chain(grouping.free);
        let mut knobs: Vec<Vec<usize>> =
            groups.chain(grouping.solved).map(|g| g.to_vec()).collect();
        for &(upper, lower) in grouping.dividers {
            knobs.extend([vec![upper], vec![lower]]);
        }
        knobs.retain(|parts| parts.iter().all(|&part| !lists.pinned[part]));
        Knobs(knobs)
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The places nearest to a set.
    pub fn places(&self, lists: &Lists, values: &[f64]) -> Places {
        let nearest = |parts: &Vec<usize>| nearest(&lists.values[parts[0]], values[parts[0]]);
        self.0.iter().map(nearest).collect()
    }

    /// How many ways there are to move one or two knobs, or the level of impedance.
    pub fn ways(&self) -> usize {
        self.alone() + self.pairs() + 2 * LEVELS.len()
    }

    fn alone(&self) -> usize {
        2 * STRIDES.len() * self.0.len()
    }

    fn pairs(&self) -> usize {
        8 * (self.0.len() * self.0.len().saturating_sub(1) / 2)
    }

    /// Where the knobs stand after one of the ways.
    pub fn moved(&self, model: &Model, lists: &Lists, places: &Places, way: usize) -> Places {
        let mut moved = places.clone();
        let mut go = |knob: usize, by: isize| {
            let last = lists.values[self.0[knob][0]].len() - 1;
            moved[knob] = moved[knob].saturating_add_signed(by).min(last);
        };
        let knobs = self.0.len();
        let signed = |is_down: bool, stride: isize| if is_down { -stride } else { stride };
        let Some(pair) = way.checked_sub(self.alone()) else {
            let (knob, how) = (way % knobs, way / knobs);
            go(knob, signed(how % 2 == 1, STRIDES[how / 2]));
            return moved;
        };
        if let Some(level) = pair.checked_sub(self.pairs()) {
            let factor = LEVELS[level / 2];
            let factor = if level % 2 == 0 { factor } else { 1.0 / factor };
            return self.at_level(model, lists, places, factor);
        }
        let (how, mut second) = (pair % 8, pair / 8);
        let mut first = 0;
        while second >= knobs - 1 - first {
            second -= knobs - 1 - first;
            first += 1;
        }
        let stride = if how < 4 { 1 } else { 3 };
        go(first, signed(how % 2 == 1, stride));
        go(first + 1 + second, signed(how / 2 % 2 == 1, stride));
        moved
    }

    /// The same set at another level of impedance, as near as the shelf comes.
    fn at_level(&self, model: &Model, lists: &Lists, places: &Places, factor: f64) -> Places {
        let moved = self.0.iter().zip(places).map(|(parts, &place)| {
            let list = &lists.values[parts[0]];
            match model.netlist.parts()[parts[0]].kind {
                Kind::Capacitor { .. } => nearest(list, list[place] / factor),
                _ => nearest(list, list[place] * factor),
            }
        });
        moved.collect()
    }

    /// All parts' values.
    pub fn values(&self, model: &Model, lists: &Lists, places: &Places) -> Vec<f64> {
        let first: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
        // Fellows of a pinned part follow it.
        let mut values = lists.on_the_shelf(model, &first);
        for (parts, &place) in self.0.iter().zip(places) {
            for &part in parts {
                values[part] = lists.values[parts[0]][place];
            }
        }
        values
    }
}
