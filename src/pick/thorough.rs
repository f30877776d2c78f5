//! Where the textbook's values lead nowhere: the whole shelf searched with the real op amp.
//!
//! From many starts all parts are moved together towards the least worst miss, as if any value within the shelf's
//! ends could be had; round the best places so found the chosen parts get shelf values, and the others are solved
//! again. What comes of it is listed like any other solution. So “out of reach” is said after a search that owes
//! nothing to design equations.

use super::descend::{Norm, Place, Way};
use super::exact::{self, Solution, by_and_by, start};
use super::judge::uniform;
use super::lists::Lists;
use super::moves::{Move, all_moves};
use crate::circuit::Kind;
use crate::stages::{Alike, Model, Scratch};

/// Starts: so many from the design equations, and so many from anywhere.
const DESIGNED: usize = 24;
const ANYWHERE: usize = 24;
/// Rounds of a first descent, and of one that goes to the end.
const ROUNDS: usize = 10;
const TO_THE_END: usize = 25;
/// So many of the places found are followed to the end, and then so many looked at on the shelf.
const FOLLOWED: usize = 10;
const LOOKED_AT: usize = 6;
/// A place that misses by less is good enough: its neighbours on the shelf will hold the limits.
const CLOSE: f64 = 0.05;
/// So many combinations of chosen parts round one place.
const COMBINATIONS: usize = 12;

/// The search, in steps.
pub(super) struct Thorough {
    moves: Vec<Move>,
    bounds: Vec<(f64, f64)>,
    /// Starts that are still to be tried.
    starts: Vec<(bool, Vec<f64>)>,
    places: Vec<Place>,
    followed: usize,
    /// Places and their combinations of chosen values that are still to be solved.
    combinations: Vec<(usize, Vec<f64>)>,
    are_listed: bool,
}

/// What a step has come to.
pub(super) enum Step {
    More,
    /// A solution with chosen parts off the shelf.
    Solution(Box<Solution>),
    Done,
}

impl Thorough {
    pub fn new(model: &Model, lists: &Lists) -> Thorough {
        let moves = all_moves(model, &lists.pinned);
        let bounds = moves.iter().map(|movement| bounds(*movement, lists));
        let bounds = bounds.collect();
        Thorough {
            starts: starts(model, lists),
            moves,
            bounds,
            places: Vec::new(),
            followed: 0,
            combinations: Vec::new(),
            are_listed: false,
        }
    }

    /// The least worst miss that parts of any value between the shelf's ends have come to.
    pub fn least(&self, model: &Model) -> Option<(f64, &[f64])> {
        let best = self.places.first()?;
        Some((best.miss(model.term_shape()), &best.values))
    }

    /// The sets that came nearest, with parts of any value.
    pub fn nearest(&self) -> impl Iterator<Item = Vec<f64>> + '_ {
        (self.places.iter().take(LOOKED_AT)).map(|place| place.values.clone())
    }

    /// Goes on by one descent.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> Step {
        let shape = model.term_shape();
        let by_miss = |a: &Place, b: &Place| a.miss(shape).total_cmp(&b.miss(shape));
        let way = Way {
            moves: &self.moves,
            bounds: &self.bounds,
            norm: Norm::Squares,
            close: CLOSE,
            rounds: ROUNDS,
        };
        if let Some((is_designed, values)) = self.starts.pop() {
            let close = |places: &[Place]| {
                let close = places.iter().filter(|place| place.miss(shape) < CLOSE);
                close.count()
            };
            if close(&self.places) >= LOOKED_AT {
                self.starts.clear();
            }
            let place = match is_designed {
                true => by_and_by(model, values, way, scratch),
                false => Place::at(model, values, None, scratch),
            };
            if let Some(mut place) = place {
                place.descend(model, way, scratch);
                self.places.push(place);
            }
            if self.starts.is_empty() {
                self.places.sort_by(by_miss);
            }
            return Step::More;
        }
        if self.followed < FOLLOWED.min(self.places.len()) {
            let worst = Way {
                norm: Norm::Worst,
                rounds: TO_THE_END,
                ..way
            };
            self.places[self.followed].descend(model, worst, scratch);
            self.followed += 1;
            return Step::More;
        }
        if !self.are_listed {
            self.are_listed = true;
            self.places.sort_by(by_miss);
            self.combinations = self.on_the_shelf(model, lists);
            return Step::More;
        }
        let Some((place, values)) = self.combinations.pop() else {
            return Step::Done;
        };
        let solution = exact::solve_from(
            model,
            &self.places[place],
            values,
            &lists.pinned,
            CLOSE,
            scratch,
        );
        match solution {
            Some(solution) => Step::Solution(Box::new(solution)),
            None => Step::More,
        }
    }

    /// Chosen and free parts on the shelf's values next to those of the best places, others as they are there.
    fn on_the_shelf(&self, model: &Model, lists: &Lists) -> Vec<(usize, Vec<f64>)> {
        let grouping = model.stage.grouping();
        let mut all = Vec::new();
        for (index, place) in self.places.iter().take(LOOKED_AT).enumerate() {
            let mut sets = vec![place.values.clone()];
            for &parts in grouping.chosen.iter().chain(grouping.free) {
                let lead = lists.lead(parts);
                let near = nearest_two(&lists.values[lead], place.values[lead]);
                let with = |set: &Vec<f64>, value: f64| {
                    let mut set = set.clone();
                    lists.put(parts, value, &mut set);
                    set
                };
                sets = near
                    .iter()
                    .flat_map(|&value| sets.iter().map(move |set| with(set, value)))
                    .collect();
                sets.truncate(COMBINATIONS);
            }
            all.extend(sets.into_iter().map(|set| (index, set)));
        }
        all.reverse();
        all
    }
}

/// The nearest value of a list, and the one on the other side.
fn nearest_two(list: &[f64], value: f64) -> Vec<f64> {
    let away = |v: &f64| (v / value).ln().abs();
    let at = list.partition_point(|v| *v < value);
    let mut two: Vec<f64> = list[at.saturating_sub(1)..(at + 1).min(list.len())].to_vec();
    two.sort_by(|a, b| away(a).total_cmp(&away(b)));
    two
}

/// Between which positions a move may stand.
fn bounds(movement: Move, lists: &Lists) -> (f64, f64) {
    let ends = |part: usize| {
        let list = &lists.values[part];
        (list[0], list[list.len() - 1])
    };
    match movement {
        Move::Parts(parts) => {
            let (low, high) = ends(lists.lead(parts));
            (low.ln(), high.ln())
        }
        Move::Half(part) => {
            let (low, high) = ends(part);
            (low.ln(), high.ln())
        }
        Move::Divider { .. } => (0.0, 1.0),
    }
}

/// Whether each comes from the design equations, and values; the last is tried first.
fn starts(model: &Model, lists: &Lists) -> Vec<(bool, Vec<f64>)> {
    let grouping = model.stage.grouping();
    let mut state = 3;
    let mut any = |list: &[f64]| {
        let at = uniform(&mut state) * list.len() as f64;
        list[(at as usize).min(list.len() - 1)]
    };
    let first: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
    let mut all = Vec::new();
    for number in 0..DESIGNED + ANYWHERE {
        let is_designed = number >= ANYWHERE;
        let mut values = first.clone();
        for &parts in grouping.chosen.iter().chain(grouping.free) {
            let lead = lists.lead(parts);
            let value = any(&lists.values[lead]);
            lists.put(parts, value, &mut values);
        }
        if is_designed {
            values = start(model, &values, &lists.pinned);
        } else {
            // Resistors about as large as the capacitors' impedance, or they would do nothing.
            let level = impedance(model, lists, &values, grouping.chosen);
            let dividers = grouping.dividers.iter();
            let halves: Vec<[usize; 1]> =
                dividers.flat_map(|&(upper, lower)| [[upper], [lower]]).collect();
            let rest = grouping.solved.iter().copied().chain(halves.iter().map(|half| &half[..]));
            for parts in rest {
                let lead = parts.iter().copied().find(|&part| lists.pinned[part]);
                let list = &lists.values[lead.unwrap_or(parts[0])];
                let value = (level * (6.0 * (any(&RATIOS) - 0.5)).exp())
                    .clamp(list[0], list[list.len() - 1]);
                for &part in parts {
                    values[part] = match lists.pinned[part] {
                        true => lists.values[part][0],
                        false => value,
                    };
                }
            }
        }
        all.push((is_designed, values));
    }
    all
}

/// Places within a range that starts are drawn from.
const RATIOS: [f64; 16] = [
    0.03, 0.09, 0.16, 0.22, 0.28, 0.34, 0.41, 0.47, 0.53, 0.59, 0.66, 0.72, 0.78, 0.84, 0.91, 0.97,
];

/// The mean impedance of the capacitors among these parts at the ask's frequency, Ω; 10 kΩ where there are none.
fn impedance(model: &Model, lists: &Lists, values: &[f64], groups: &[Alike]) -> f64 {
    let parts = model.netlist.parts();
    let capacitors = groups
        .iter()
        .map(|group| lists.lead(group))
        .filter(|&part| matches!(parts[part].kind, Kind::Capacitor { .. }));
    let logs: Vec<f64> = capacitors
        .map(|part| -(model.scale.omega * values[part]).ln())
        .collect();
    match logs.is_empty() {
        true => 10e3,
        false => (logs.iter().sum::<f64>() / logs.len() as f64).exp(),
    }
}
