//! The parts that can be moved along the shelf, one by one or those that are alike together, and the ways to move
//! them from one set to the next.

use super::lists::{Lists, nearest};
use crate::circuit::Kind;
use crate::stages::{Model, Scratch};

/// How far a part is moved at once, in places of its list, and how far each of two.
const STRIDES: [isize; 5] = [1, 2, 4, 9, 20];
const OF_TWO: [isize; 2] = [1, 3];
/// And where all of two parts' values nearby are looked at.
const WIDE: isize = 12;
/// Factors by which the level of impedance is moved.
const LEVELS: [f64; 6] = [1.2, 1.47, 2.15, 4.7, 10.0, 22.0];
/// Of a stroll: how many move the level, by up to this (ln of a factor), and how many parts go along.
const LEVEL_SHARE: f64 = 0.25;
const WIDEST_LEVEL: f64 = 1.0;
const MOVED_SHARE: f64 = 0.7;
/// And how far one part goes at most, as a share of its list.
const WIDEST: f64 = 0.3;

/// The knobs of a circuit.
pub(super) struct Knobs {
    /// Parts that have one value each; the halves of a divider move by themselves.
    parts: Vec<Vec<usize>>,
    is_capacitor: Vec<bool>,
    ways: Vec<Way>,
    /// Values of the parts that no knob moves.
    others: Vec<f64>,
}

/// A way to move.
#[derive(Clone, Copy)]
enum Way {
    /// Knobs by so many places.
    Steps([(usize, isize); 2]),
    /// The level of impedance by a factor, resistors up and capacitors down.
    Level(f64),
    /// A capacitor by so many places against one resistor or all, which then go so many places further.
    Trade(usize, isize, Option<usize>, isize),
}

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
        let is_capacitor = |parts: &Vec<usize>| {
            matches!(model.netlist.parts()[parts[0]].kind, Kind::Capacitor { .. })
        };
        let is_capacitor: Vec<bool> = knobs.iter().map(is_capacitor).collect();
        // Fellows of a pinned part follow it.
        let first: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
        Knobs {
            others: lists.on_the_shelf(model, &first),
            ways: ways(&is_capacitor),
            parts: knobs,
            is_capacitor,
        }
    }

    /// The same with other ways to move: any two knobs, each by up to [`WIDE`] places.
    pub fn by_twos(mut self) -> Knobs {
        let knobs = self.parts.len();
        let pairs = (0..knobs).flat_map(|second| (0..second).map(move |first| (first, second)));
        let within = || -WIDE..=WIDE;
        let all = pairs.flat_map(|(first, second)| {
            within().flat_map(move |a| within().map(move |b| Way::Steps([(first, a), (second, b)])))
        });
        self.ways = all.collect();
        self
    }

    pub fn count(&self) -> usize {
        self.parts.len()
    }

    /// The places nearest to a set.
    pub fn places(&self, lists: &Lists, values: &[f64]) -> Places {
        let nearest = |parts: &Vec<usize>| nearest(&lists.values[parts[0]], values[parts[0]]);
        self.parts.iter().map(nearest).collect()
    }

    /// How many ways there are to move.
    pub fn ways(&self) -> usize {
        self.ways.len()
    }

    /// Where the knobs stand after one of the ways.
    pub fn moved(&self, lists: &Lists, places: &Places, way: usize) -> Places {
        let mut moved = places.clone();
        let list = |knob: usize| &lists.values[self.parts[knob][0]];
        let mut go = |knob: usize, by: isize| moved[knob] = stepped(list(knob), moved[knob], by);
        match self.ways[way] {
            Way::Steps(steps) => steps.into_iter().for_each(|(knob, by)| go(knob, by)),
            Way::Level(factor) => {
                for (knob, place) in moved.iter_mut().enumerate() {
                    *place = self.at_level(list(knob), knob, *place, factor);
                }
            }
            Way::Trade(capacitor, by, with, off) => {
                go(capacitor, by);
                let factor = list(capacitor)[places[capacitor]] / list(capacitor)[moved[capacitor]];
                for knob in (0..moved.len()).filter(|&knob| !self.is_capacitor[knob]) {
                    if with.is_none_or(|with| with == knob) {
                        let place = self.at_level(list(knob), knob, places[knob], factor);
                        moved[knob] = stepped(list(knob), place, off);
                    }
                }
            }
        }
        moved
    }

    /// The place of a knob at another level of impedance, as near as its list comes.
    fn at_level(&self, list: &[f64], knob: usize, place: usize, factor: f64) -> usize {
        match self.is_capacitor[knob] {
            true => nearest(list, list[place] / factor),
            false => nearest(list, list[place] * factor),
        }
    }

    /// Anywhere on the shelf; `random` gives numbers from 0 to 1.
    pub fn anywhere(&self, lists: &Lists, mut random: impl FnMut() -> f64) -> Places {
        let place = |parts: &Vec<usize>| {
            let count = lists.values[parts[0]].len();
            ((random() * count as f64) as usize).min(count - 1)
        };
        self.parts.iter().map(place).collect()
    }

    /// Somewhere near these places, the nearer the smaller `width` (1 to 0) is: one knob or two are moved, or some
    /// capacitors against some resistors, which leaves the frequencies where they are.
    pub fn strolled(
        &self,
        lists: &Lists,
        places: &Places,
        width: f64,
        mut random: impl FnMut() -> f64,
    ) -> Places {
        let mut moved = places.clone();
        let list = |knob: usize| &lists.values[self.parts[knob][0]];
        if random() < LEVEL_SHARE {
            let factor = ((2.0 * random() - 1.0) * WIDEST_LEVEL).exp();
            for (knob, place) in moved.iter_mut().enumerate() {
                if random() < MOVED_SHARE {
                    *place = self.at_level(list(knob), knob, *place, factor);
                }
            }
            return moved;
        }
        for _ in 0..1 + usize::from(random() < 0.5) {
            let knob = ((random() * self.parts.len() as f64) as usize).min(self.parts.len() - 1);
            let last = list(knob).len() - 1;
            let widest = 1.5 + WIDEST * width * last as f64;
            // Short steps more often than long ones.
            let by = (2.0 * random() - 1.0) * random().max(0.2) * widest;
            let by = if by < 0.0 { by.floor() } else { by.ceil() };
            moved[knob] = stepped(list(knob), moved[knob], by as isize);
        }
        moved
    }

    /// The worst miss of each set, infinite where it is above the bound that stands with the set.
    pub fn misses<'a>(
        &self,
        model: &Model,
        lists: &Lists,
        sets: impl Iterator<Item = (&'a Places, f64)>,
        scratch: &mut Scratch,
    ) -> Vec<f64> {
        let sets: Vec<(Vec<f64>, f64)> = sets
            .map(|(places, most)| (self.values(lists, places), most))
            .collect();
        let bounded = sets.iter().map(|(set, most)| (&set[..], *most));
        model.misses_within(bounded, scratch)
    }

    /// All parts' values.
    pub fn values(&self, lists: &Lists, places: &Places) -> Vec<f64> {
        let mut values = self.others.clone();
        for (parts, &place) in self.parts.iter().zip(places) {
            for &part in parts {
                values[part] = lists.values[parts[0]][place];
            }
        }
        values
    }
}

/// So many places further in a list, or at its end.
fn stepped(list: &[f64], place: usize, by: isize) -> usize {
    place.saturating_add_signed(by).min(list.len() - 1)
}

/// Every way to move one knob, two, all of them, or a capacitor against resistors.
fn ways(is_capacitor: &[bool]) -> Vec<Way> {
    let knobs = is_capacitor.len();
    let both = |by: isize| [by, -by];
    let mut ways = Vec::new();
    for by in STRIDES.into_iter().flat_map(both) {
        ways.extend((0..knobs).map(|knob| Way::Steps([(knob, by), (knob, 0)])));
    }
    for second in 0..knobs {
        for first in 0..second {
            for stride in OF_TWO {
                for (a, b) in [(1, 1), (1, -1), (-1, 1), (-1, -1)] {
                    ways.push(Way::Steps([(first, a * stride), (second, b * stride)]));
                }
            }
        }
    }
    ways.extend(
        LEVELS
            .into_iter()
            .flat_map(|level| [Way::Level(level), Way::Level(1.0 / level)]),
    );
    for capacitor in (0..knobs).filter(|&knob| is_capacitor[knob]) {
        for by in both(1) {
            ways.push(Way::Trade(capacitor, by, None, 0));
            for resistor in (0..knobs).filter(|&knob| !is_capacitor[knob]) {
                ways.extend([-1, 0, 1].map(|off| Way::Trade(capacitor, by, Some(resistor), off)));
            }
        }
    }
    ways
}
