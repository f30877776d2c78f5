//! The search over the shelf.

use std::collections::BTreeMap;

use super::combinations::Combinations;
use super::divider;
use super::exact::{self, Move, Solution, moves};
use super::listing;
use super::lists::{Lists, coded};
use super::queue::{Candidate, Queue};
use super::rank::{Rank, discomfort_of, rank};
use crate::parts::Shelf;
use crate::stages::{Model, Scratch};

/// How many sets are kept: the best and the twelve next-best.
pub const KEPT: usize = 13;

/// A set of parts, chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Pick {
    /// Values in the netlist's order.
    pub values: Vec<f64>,
    pub rank: Rank,
}

/// The best sets found, best first; empty when no set's curve could be read.
#[derive(Clone, Debug, Default)]
pub struct Choices {
    pub picks: Vec<Pick>,
    /// The exact solution that came nearest to the shelf, when no pick holds the limits: what one
    /// would have to buy.
    pub nearest_exact: Option<Vec<f64>>,
}

/// A solution is searched around when it misses by less than this, in limits; only the picks' own
/// solutions are then followed to the end.
const CLOSE: f64 = 0.03;

/// The search, in slices: [`Search::advance`] until it says that it is done.
pub struct Search {
    lists: Lists,
    combinations: Combinations,
    solutions: Vec<Solution>,
    queue: Queue,
    kept: Vec<Pick>,
    scratch: Scratch,
}

impl Search {
    /// Prepares the search; `pins` fixes parts (by netlist position) to a value of any size.
    pub fn new(model: &Model, shelf: &Shelf, pins: &BTreeMap<usize, f64>) -> Search {
        let parts = model.netlist.parts();
        let lists = Lists::new(model, shelf, pins);
        Search {
            combinations: Combinations::new(model, &lists.values, &lists.pinned, |part, value| {
                discomfort_of(parts[part].kind, value)
            }),
            lists,
            solutions: Vec::new(),
            queue: Queue::default(),
            kept: Vec::new(),
            scratch: Scratch::default(),
        }
    }

    /// Works until done (true) or until `go_on` says no (false).
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> bool {
        loop {
            if !go_on() {
                return false;
            }
            // One look is too short to ask for the time after each.
            let looked = (0..16)
                .take_while(|_| {
                    let Lists { values, pinned, .. } = &self.lists;
                    self.combinations.look(model, values, pinned)
                })
                .count();
            if looked > 0 {
                continue;
            }
            match self.combinations.next() {
                Some(number) => self.solve_combination(model, number),
                None => break,
            }
        }
        while self.has_promising() {
            if !go_on() {
                return false;
            }
            if let Some(candidate) = self.queue.take() {
                self.finish_candidate(model, &candidate);
            }
        }
        true
    }

    /// Takes out what was found.
    pub fn take(&mut self) -> Choices {
        Choices {
            picks: std::mem::take(&mut self.kept),
            nearest_exact: self.combinations.nearest.take().map(|(_, values)| values),
        }
    }

    /// Share of the work that is done, for a progress bar.
    pub fn progress(&self) -> f64 {
        self.combinations.progress()
    }

    /// Whether the next candidate may rank before one of those that are kept.
    fn has_promising(&mut self) -> bool {
        let (kept, worst) = (self.kept.len(), self.kept.last());
        let cannot_beat = |bound: &Rank| {
            kept == KEPT && worst.is_some_and(|worst| worst.rank.order(bound).is_le())
        };
        self.queue
            .next_bound()
            .is_some_and(|bound| !cannot_beat(bound))
    }

    /// Solves one combination of chosen parts and lists the shelf's values round the solution.
    fn solve_combination(&mut self, model: &Model, number: usize) {
        let mut values: Vec<f64> = self.lists.values.iter().map(|list| list[0]).collect();
        self.combinations.put(number, &mut values);
        let like = self.solutions.last();
        let Some(solution) = exact::solve(
            model,
            &values,
            &self.lists.pinned,
            CLOSE,
            like,
            &mut self.scratch,
        ) else {
            return;
        };
        let index = self.solutions.len();
        let last_step = self.queue.last_step();
        let around = (index, &solution);
        let listed = listing::list(model, &self.lists, around, last_step);
        self.queue.add(listed);
        self.solutions.push(solution);
    }

    /// Gives a candidate its dividers and keeps the set if it is among the best.
    fn finish_candidate(&mut self, model: &Model, candidate: &Candidate) {
        let solution = &self.solutions[candidate.solution];
        let mut values = solution.values.clone();
        let near = self.lists.neighbours(model, solution);
        let solved = model.stage.grouping().solved;
        for (&parts, at) in solved.iter().zip(coded(&near, candidate.code)) {
            let value = self.lists.values[self.lists.lead(parts)][at];
            self.lists.put(parts, value, &mut values);
        }
        for movement in moves(model, &self.lists.pinned) {
            if let Move::Divider { upper, lower, .. } = movement {
                let shop = divider::Shop {
                    model,
                    uppers: &self.lists.values[upper],
                    lowers: &self.lists.values[lower],
                    upper_discomforts: &self.lists.discomforts[upper],
                    lower_discomforts: &self.lists.discomforts[lower],
                    hint: &solution.figures,
                    step: candidate.bound.step,
                    to_beat: self.kept.get(KEPT - 1).map(|worst| &worst.rank),
                };
                let Some(chosen) =
                    shop.choose(&values, movement, (upper, lower), &mut self.scratch)
                else {
                    return;
                };
                values = chosen;
            }
        }
        let terms = model.terms(&values, Some(&solution.figures), &mut self.scratch);
        let miss = model.term_shape().miss(&terms);
        if miss.is_finite() {
            self.keep(Pick {
                rank: rank(model, &values, miss),
                values,
            });
        }
    }

    fn keep(&mut self, pick: Pick) {
        let at = self
            .kept
            .partition_point(|kept| kept.rank.order(&pick.rank).is_le());
        self.kept.insert(at, pick);
        self.kept.truncate(KEPT);
    }
}
