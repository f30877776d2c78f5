//! The last word on a set that does not hold the limits: each part, and each two parts together, moved along the
//! shelf as long as the worst miss becomes smaller.

use super::lists::{Lists, nearest};
use crate::circuit::Kind;
use crate::stages::{Model, Scratch};

/// How far a part is moved at once, in places of its list.
const STRIDES: [isize; 5] = [1, 2, 4, 9, 20];
/// Factors by which the level of impedance is moved, resistors up and capacitors down.
const LEVELS: [f64; 6] = [1.2, 1.47, 2.15, 4.7, 10.0, 22.0];
/// Sets that are looked at in all.
const LOOKED_AT: usize = 6000;
/// Sets that are looked at in one step.
const ABREAST: usize = 48;

/// Parts that have one value, and where they stand on the shelf.
type Knobs = Vec<Vec<usize>>;

pub(super) struct Polish {
    knobs: Knobs,
    /// Sets that are still to be started from; the last is next.
    starts: Vec<Vec<f64>>,
    at: Option<Ascent>,
    left: usize,
    /// What was arrived at.
    pub found: Vec<Vec<f64>>,
}

/// One set on its way.
struct Ascent {
    places: Vec<usize>,
    miss: f64,
    /// How many of the ways to move have been tried from here without gain.
    tried: usize,
}

impl Polish {
    /// From each of these sets.
    pub fn new(model: &Model, lists: &Lists, mut starts: Vec<Vec<f64>>) -> Polish {
        let grouping = model.stage.grouping();
        let groups = grouping.chosen.iter().chain(grouping.free);
        let mut knobs: Knobs = groups.chain(grouping.solved).map(|g| g.to_vec()).collect();
        for &(upper, lower) in grouping.dividers {
            knobs.extend([vec![upper], vec![lower]]);
        }
        // What is pinned stands still, and its fellows with it.
        knobs.retain(|parts| parts.iter().all(|&part| !lists.pinned[part]));
        starts.reverse();
        Polish {
            knobs,
            starts,
            at: None,
            left: LOOKED_AT,
            found: Vec::new(),
        }
    }

    /// Looks at a few more sets; true when there are none left.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> bool {
        if self.knobs.is_empty() {
            return true;
        }
        let Some(mut at) = self.at.take() else {
            let Some(start) = self.starts.pop().filter(|_| self.left > 0) else {
                return true;
            };
            let nearest = |parts: &Vec<usize>| nearest(&lists.values[parts[0]], start[parts[0]]);
            let places: Vec<usize> = self.knobs.iter().map(nearest).collect();
            let miss = self.misses(model, lists, std::slice::from_ref(&places), scratch)[0];
            self.at = Some(Ascent {
                places,
                miss,
                tried: 0,
            });
            return false;
        };
        let ways = self.ways();
        let next: Vec<usize> = (at.tried..ways).take(ABREAST).collect();
        let sets: Vec<Vec<usize>> = next
            .iter()
            .map(|&way| self.moved(model, lists, &at.places, way))
            .collect();
        let misses = self.misses(model, lists, &sets, scratch);
        self.left = self.left.saturating_sub(sets.len());
        at.tried += sets.len();
        let best = (0..sets.len()).min_by(|&a, &b| misses[a].total_cmp(&misses[b]));
        if let Some(best) = best.filter(|&best| misses[best] < at.miss * (1.0 - 1e-9)) {
            at = Ascent {
                places: sets[best].clone(),
                miss: misses[best],
                tried: 0,
            };
        }
        if at.tried < ways && self.left > 0 {
            self.at = Some(at);
        } else {
            self.found.push(self.values(model, lists, &at.places));
        }
        false
    }

    /// How many ways there are to move one or two parts.
    fn ways(&self) -> usize {
        let knobs = self.knobs.len();
        2 * STRIDES.len() * knobs + 8 * (knobs * (knobs - 1) / 2) + 2 * LEVELS.len()
    }

    /// Where the parts stand after one of the ways.
    fn moved(&self, model: &Model, lists: &Lists, places: &[usize], way: usize) -> Vec<usize> {
        let mut moved = places.to_vec();
        let mut go = |knob: usize, by: isize| {
            let last = lists.values[self.knobs[knob][0]].len() - 1;
            moved[knob] = moved[knob].saturating_add_signed(by).min(last);
        };
        let knobs = self.knobs.len();
        let alone = 2 * STRIDES.len() * knobs;
        if way < alone {
            let (knob, way) = (way % knobs, way / knobs);
            let stride = STRIDES[way / 2];
            go(knob, if way % 2 == 0 { stride } else { -stride });
            return moved;
        }
        let way = way - alone;
        let pairs = 8 * (knobs * (knobs - 1) / 2);
        if let Some(way) = way.checked_sub(pairs) {
            let factor = match way % 2 {
                0 => LEVELS[way / 2],
                _ => 1.0 / LEVELS[way / 2],
            };
            return self.at_level(model, lists, places, factor);
        }
        let (how, mut pair) = (way % 8, way / 8);
        let mut first = 0;
        while pair >= knobs - 1 - first {
            pair -= knobs - 1 - first;
            first += 1;
        }
        let stride = if how < 4 { 1 } else { 3 };
        go(first, if how % 2 == 0 { stride } else { -stride });
        go(
            first + 1 + pair,
            if how / 2 % 2 == 0 { stride } else { -stride },
        );
        moved
    }

    /// The same set at another level of impedance, as near as the shelf comes.
    fn at_level(&self, model: &Model, lists: &Lists, places: &[usize], factor: f64) -> Vec<usize> {
        let moved = self.knobs.iter().zip(places).map(|(parts, &place)| {
            let list = &lists.values[parts[0]];
            match model.netlist.parts()[parts[0]].kind {
                Kind::Capacitor { .. } => nearest(list, list[place] / factor),
                _ => nearest(list, list[place] * factor),
            }
        });
        moved.collect()
    }

    fn values(&self, model: &Model, lists: &Lists, places: &[usize]) -> Vec<f64> {
        let mut values: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
        // Fellows of a pinned part follow it.
        values = lists.on_the_shelf(model, &values);
        for (parts, &place) in self.knobs.iter().zip(places) {
            for &part in parts {
                values[part] = lists.values[parts[0]][place];
            }
        }
        values
    }

    fn misses(
        &self,
        model: &Model,
        lists: &Lists,
        sets: &[Vec<usize>],
        scratch: &mut Scratch,
    ) -> Vec<f64> {
        let sets: Vec<Vec<f64>> = (sets.iter())
            .map(|places| self.values(model, lists, places))
            .collect();
        let terms = model.terms_of_sets(&sets, None, scratch);
        let shape = model.term_shape();
        terms.iter().map(|terms| shape.miss(terms)).collect()
    }
}
