//! Where the textbook's values lead nowhere: the whole shelf searched with the real op amp.
//!
//! From many starts all parts are moved together towards the least worst miss, as if any value within the shelf's
//! ends could be had; round the best places so found the chosen parts get shelf values, and the others are solved
//! again. What comes of it is listed like any other solution. So “out of reach” is said after a search that owes
//! nothing to design equations.

use super::comfort::{Bother, Weights};
use super::descend::{Norm, Place, Way};
use super::exact::{self, Solution, by_and_by, start};
use super::lists::Lists;
use super::moves::{Move, all_moves, moves};
use crate::circuit::Kind;
use crate::numerics::put_in_order;
use crate::random::uniform;
use crate::stages::{Alike, Model, Scratch};

/// Starts: so many from the design equations, and so many from anywhere.
const DESIGNED: usize = 24;
const ANYWHERE: usize = 24;
/// Which are the best of so many.
const SEEN: usize = 240;
/// Rounds of a first descent, and of one that goes to the end.
const ROUNDS: usize = 10;
const TO_THE_END: usize = 25;
/// So many of the places found are followed to the end, and then so many looked at on the shelf.
const FOLLOWED: usize = 10;
const LOOKED_AT: usize = 6;
/// A place that misses by less is good enough: its neighbours on the shelf will hold the limits.
const CLOSE: f64 = 0.05;
/// Places that miss by less than this are as good as each other.
const NEAR: f64 = 0.3;
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
    weights: Weights,
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
    pub fn new(model: &Model, lists: &Lists, weights: Weights, scratch: &mut Scratch) -> Thorough {
        let moves = all_moves(model, &lists.pinned);
        let bounds = moves.iter().map(|movement| bounds(*movement, lists));
        let bounds = bounds.collect();
        Thorough {
            starts: starts(model, lists, scratch),
            moves,
            bounds,
            places: Vec::new(),
            followed: 0,
            weights,
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
        if let Some(start) = self.starts.pop() {
            self.descend(model, start, scratch);
            return Step::More;
        }
        if self.followed < FOLLOWED.min(self.places.len()) {
            let worst = Way {
                norm: Norm::Worst,
                rounds: TO_THE_END,
                ..way(&self.moves, &self.bounds)
            };
            self.places[self.followed].descend(model, worst, scratch);
            self.followed += 1;
            return Step::More;
        }
        if !self.are_listed {
            self.are_listed = true;
            self.put_comfortable_first(model);
            self.combinations = self.on_the_shelf(model, lists);
            return Step::More;
        }
        let Some((place, values)) = self.combinations.pop() else {
            return Step::Done;
        };
        let moves = moves(model, &lists.pinned);
        let bounds: Vec<(f64, f64)> = moves.iter().map(|m| bounds(*m, lists)).collect();
        let near = &self.places[place];
        match exact::solve_from(model, near, values, way(&moves, &bounds), scratch) {
            Some(solution) => Step::Solution(Box::new(solution)),
            None => Step::More,
        }
    }

    /// Goes down from a start; the last one is followed by all places in order.
    fn descend(
        &mut self,
        model: &Model,
        (is_designed, values): (bool, Vec<f64>),
        scratch: &mut Scratch,
    ) {
        let shape = model.term_shape();
        let way = way(&self.moves, &self.bounds);
        let close = self.places.iter().filter(|place| place.miss(shape) < CLOSE);
        if close.count() >= LOOKED_AT {
            self.starts.clear();
        }
        let values = way.within(values);
        let place = match is_designed {
            true => by_and_by(model, values, way, scratch),
            false => Place::at(model, values, None, scratch),
        };
        if let Some(mut place) = place {
            place.descend(model, way, scratch);
            self.places.push(place);
        }
        if self.starts.is_empty() {
            put_in_order(&mut self.places, |a, b| {
                a.miss(shape).total_cmp(&b.miss(shape))
            });
        }
    }

    /// All that come near will have sets that hold the limits: then the comfortable ones are first.
    fn put_comfortable_first(&mut self, model: &Model) {
        let shape = model.term_shape();
        let key = |place: &Place| {
            let strain = Bother::of(model, &place.values, &self.weights).points(&self.weights);
            (place.miss(shape).max(NEAR), strain)
        };
        put_in_order(&mut self.places, |a, b| {
            let (a, b) = (key(a), key(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
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

/// A first descent.
fn way<'a>(moves: &'a [Move], bounds: &'a [(f64, f64)]) -> Way<'a> {
    Way {
        moves,
        bounds,
        norm: Norm::Squares,
        close: CLOSE,
        rounds: ROUNDS,
    }
}

/// The nearest value of a list, and the one on the other side.
fn nearest_two(list: &[f64], value: f64) -> Vec<f64> {
    let away = |v: &f64| (v / value).ln().abs();
    let at = list.partition_point(|v| *v < value);
    let mut two: Vec<f64> = list[at.saturating_sub(1)..(at + 1).min(list.len())].to_vec();
    put_in_order(&mut two, |a, b| away(a).total_cmp(&away(b)));
    two
}

/// Between which positions a move may stand.
pub(super) fn bounds(movement: Move, lists: &Lists) -> (f64, f64) {
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
fn starts(model: &Model, lists: &Lists, scratch: &mut Scratch) -> Vec<(bool, Vec<f64>)> {
    let mut state = 3;
    let anywhere: Vec<Vec<f64>> = (0..SEEN)
        .map(|_| anywhere(model, lists, &mut state))
        .collect();
    let terms = model.terms_of_sets(&anywhere, None, scratch);
    let shape = model.term_shape();
    let mut seen: Vec<(f64, Vec<f64>)> = (terms.iter().zip(anywhere))
        .map(|(terms, values)| (shape.miss(terms), values))
        .filter(|(miss, _)| miss.is_finite())
        .collect();
    put_in_order(&mut seen, |a, b| a.0.total_cmp(&b.0));
    seen.truncate(ANYWHERE);
    let mut all: Vec<_> = (seen.into_iter().rev())
        .map(|(_, values)| (false, values))
        .collect();
    all.extend((0..DESIGNED).map(|_| {
        let chosen = with_chosen(model, lists, &mut state);
        (true, start(model, &chosen, &lists.pinned))
    }));
    all
}

/// Any values for the chosen and free parts.
pub(super) fn with_chosen(model: &Model, lists: &Lists, state: &mut u64) -> Vec<f64> {
    let grouping = model.stage.grouping();
    let mut values: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
    for &parts in grouping.chosen.iter().chain(grouping.free) {
        let list = &lists.values[lists.lead(parts)];
        let at = (uniform(state) * list.len() as f64) as usize;
        lists.put(parts, list[at.min(list.len() - 1)], &mut values);
    }
    values
}

/// Any values for all parts, resistors within a factor of twenty of the capacitors' impedance: far from it they
/// would do nothing.
fn anywhere(model: &Model, lists: &Lists, state: &mut u64) -> Vec<f64> {
    let grouping = model.stage.grouping();
    let mut values = with_chosen(model, lists, state);
    let level = impedance(model, lists, &values, grouping.chosen);
    let mut any = || level * (6.0 * (uniform(state) - 0.5)).exp();
    for &parts in grouping.solved {
        let value = any();
        parts.iter().for_each(|&part| values[part] = value);
    }
    for &(upper, lower) in grouping.dividers {
        (values[upper], values[lower]) = (any(), any());
    }
    lists.on_the_shelf(model, &values)
}

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
