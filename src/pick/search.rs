//! The search over the shelf.

use std::collections::BTreeMap;
use std::ops::Range;

use super::divider::{self, least_squares};
use super::exact::{self, Move, Solution, moves, terms_at};
use super::rank::{Rank, discomfort_of, distinct, rank, step_of};
use crate::circuit::Kind;
use crate::parts::Shelf;
use crate::stages::{Model, Scratch};

/// How many sets are kept: the best and the twelve next-best.
pub const KEPT: usize = 13;
/// Shelf values tried on each side of a solved part's exact value.
const NEIGHBOURS: usize = 3;
/// What a prediction may be wrong by before its second-order part, in limits.
const SLACK: f64 = 0.01;

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

/// A combination is not followed when a part that can still be chosen would lie further off the
/// shelf's ends than this, as ln of a ratio.
const FAR_OFF: f64 = std::f64::consts::LN_2;

/// A candidate that waits for its dividers.
struct Candidate {
    /// No set from this candidate ranks before this.
    bound: Rank,
    solution: usize,
    /// Which neighbours of the exact values it has, as one number.
    code: usize,
}

/// The search, in slices: [`Search::advance`] until it says that it is done.
pub struct Search {
    /// Values that each part may have.
    lists: Vec<Vec<f64>>,
    /// How uncomfortable each of them is.
    discomforts: Vec<Vec<f64>>,
    pinned: Vec<bool>,
    /// The next combination of chosen parts to be solved, and how many there are.
    combination: usize,
    combinations: usize,
    solutions: Vec<Solution>,
    /// By the step of their bounds; only the lowest step is ever put in order.
    candidates: BTreeMap<u32, Vec<Candidate>>,
    /// The lowest step's candidates, best last.
    current: Vec<Candidate>,
    kept: Vec<Pick>,
    nearest_exact: Option<(f64, Vec<f64>)>,
    scratch: Scratch,
}

impl Search {
    /// Prepares the search; `pins` fixes parts (by netlist position) to a value of any size.
    pub fn new(model: &Model, shelf: &Shelf, pins: &BTreeMap<usize, f64>) -> Search {
        let (resistors, capacitors) = (shelf.resistors.values(), shelf.capacitors.values());
        let parts = model.netlist.parts();
        let lists: Vec<Vec<f64>> = parts
            .iter()
            .enumerate()
            .map(|(index, part)| match (pins.get(&index), part.kind) {
                (Some(&value), _) => vec![value],
                (None, Kind::Resistor { .. }) => resistors.clone(),
                (None, Kind::Capacitor { .. }) => capacitors.clone(),
                (None, Kind::OpAmp { .. }) => vec![0.0],
            })
            .collect();
        let discomforts = lists
            .iter()
            .zip(parts)
            .map(|(list, part)| list.iter().map(|&v| discomfort_of(part.kind, v)).collect())
            .collect();
        let chosen = model.stage.grouping().chosen;
        Search {
            combination: 0,
            combinations: chosen.iter().map(|&part| lists[part].len()).product(),
            pinned: (0..parts.len())
                .map(|index| pins.contains_key(&index))
                .collect(),
            lists,
            discomforts,
            solutions: Vec::new(),
            candidates: BTreeMap::new(),
            current: Vec::new(),
            kept: Vec::new(),
            nearest_exact: None,
            scratch: Scratch::default(),
        }
    }

    /// Works until done (true) or until `go_on` says no (false).
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> bool {
        while self.combination < self.combinations {
            if !go_on() {
                return false;
            }
            self.solve_combination(model);
            self.combination += 1;
        }
        loop {
            if self.current.is_empty() {
                let Some((_, mut lowest)) = self.candidates.pop_first() else {
                    return true;
                };
                lowest.sort_by(|a, b| b.bound.order(&a.bound));
                self.current = lowest;
            }
            if self
                .current
                .last()
                .is_some_and(|next| self.cannot_beat(&next.bound))
            {
                return true;
            }
            if !go_on() {
                return false;
            }
            if let Some(candidate) = self.current.pop() {
                self.finish_candidate(model, &candidate);
            }
        }
    }

    /// Takes out what was found.
    pub fn take(&mut self) -> Choices {
        Choices {
            picks: std::mem::take(&mut self.kept),
            nearest_exact: self.nearest_exact.take().map(|(_, values)| values),
        }
    }

    /// Share of the work that is done, for a progress bar.
    pub fn progress(&self) -> f64 {
        self.combination as f64 / self.combinations.max(1) as f64
    }

    /// Whether the list is full of sets at least as good as this bound.
    fn cannot_beat(&self, bound: &Rank) -> bool {
        self.kept.len() == KEPT
            && self
                .kept
                .last()
                .is_some_and(|worst| worst.rank.order(bound).is_le())
    }

    /// Solves one combination of chosen parts and lists the shelf's values round the solution.
    fn solve_combination(&mut self, model: &Model) {
        let grouping = model.stage.grouping();
        let mut values: Vec<f64> = self.lists.iter().map(|list| list[0]).collect();
        let mut code = self.combination;
        for &part in grouping.chosen {
            let list = &self.lists[part];
            values[part] = list[code % list.len()];
            code /= list.len();
        }
        // Far off the shelf nothing can be found; the closed form is enough to see that.
        let mut rough = values.clone();
        model.stage.solve(&model.ask, &mut rough);
        let off = self.off_shelf(grouping.solved, &rough);
        if self
            .nearest_exact
            .as_ref()
            .is_none_or(|(least, _)| off < *least)
        {
            self.nearest_exact = Some((off, rough));
        }
        if off > FAR_OFF {
            return;
        }
        // Solutions look alike near the ask, so the last one's figures are a hint for this one.
        let hint = self.solutions.last().map(|last| last.figures.as_slice());
        let Some(solution) =
            exact::solve(model, &values, &self.pinned, CLOSE, hint, &mut self.scratch)
        else {
            return;
        };
        let index = self.solutions.len();
        self.list_candidates(model, &solution, index);
        self.solutions.push(solution);
    }

    /// How far (ln of a ratio) the worst of these values lies off what the shelf has.
    fn off_shelf(&self, parts: &[usize], values: &[f64]) -> f64 {
        parts
            .iter()
            .filter(|&&part| !self.pinned[part])
            .filter_map(|&part| {
                let list = &self.lists[part];
                let (low, high) = (list.first()?, list.last()?);
                Some((low / values[part]).max(values[part] / high).ln().max(0.0))
            })
            .fold(0.0, f64::max)
    }

    /// Where the shelf's values on both sides of each solved part's exact value stand in its list.
    fn neighbours(&self, model: &Model, solution: &Solution) -> Vec<Range<usize>> {
        let near = |&part: &usize| {
            let list = &self.lists[part];
            let at = list.partition_point(|v| *v < solution.values[part]);
            at.saturating_sub(NEIGHBOURS)..(at + NEIGHBOURS).min(list.len())
        };
        model.stage.grouping().solved.iter().map(near).collect()
    }

    fn list_candidates(&mut self, model: &Model, solution: &Solution, index: usize) {
        let grouping = model.stage.grouping();
        let near = self.neighbours(model, solution);
        let count: usize = near.iter().map(|n| n.len()).product();
        let movement = moves(model, &self.pinned);
        let shape = model.stage.term_shape();
        // Parts whose values a candidate knows: all but the dividers'.
        let settled: Vec<usize> = (0..self.lists.len())
            .filter(|part| {
                self.pinned[*part]
                    || !grouping
                        .dividers
                        .iter()
                        .any(|(u, l)| u == part || l == part)
            })
            .collect();
        let mut set = solution.values.clone();
        let kind = |part: usize| model.netlist.parts()[part].kind;
        // What the chosen parts add; a hair less, since sums differ in their last digit.
        let standing: f64 = settled
            .iter()
            .filter(|part| !grouping.solved.contains(part))
            .map(|&part| discomfort_of(kind(part), set[part]))
            .sum::<f64>()
            - 1e-9;
        let mut terms = solution.terms.clone();
        let mut listed = Vec::with_capacity(count);
        for code in 0..count {
            terms.copy_from_slice(&solution.terms);
            let (mut furthest, mut moved) = (0.0f64, 0.0f64);
            let mut discomfort = standing;
            for (&part, at) in grouping.solved.iter().zip(coded(&near, code)) {
                let value = self.lists[part][at];
                set[part] = value;
                discomfort += self.discomforts[part][at];
                let Some(m) = movement.iter().position(|m| *m == Move::Part(part)) else {
                    continue;
                };
                let by = (value / solution.values[part]).ln();
                furthest = furthest.max(by.abs());
                for (term, slope) in terms.iter_mut().zip(&solution.slopes[m]) {
                    *term += slope * by;
                    moved = moved.max((slope * by).abs());
                }
            }
            // Dividers can be had nearly exactly, so each takes out what it can.
            for (m, slope) in movement.iter().zip(&solution.slopes) {
                if let Move::Divider { .. } = m {
                    let along = least_squares(&terms, slope);
                    terms
                        .iter_mut()
                        .zip(slope)
                        .for_each(|(t, s)| *t += s * along);
                }
            }
            let distinct = distinct(model, &set, &settled);
            let miss = shape.miss(&terms) * 0.95 - SLACK - furthest * moved;
            let bound = Rank {
                step: step_of(miss.max(0.0)),
                distinct,
                discomfort,
                miss: 0.0,
            };
            listed.push(Candidate {
                bound,
                solution: index,
                code,
            });
        }
        for candidate in listed {
            self.candidates
                .entry(candidate.bound.step)
                .or_default()
                .push(candidate);
        }
    }

    /// Gives a candidate its dividers and keeps the set if it is among the best.
    fn finish_candidate(&mut self, model: &Model, candidate: &Candidate) {
        let solution = &self.solutions[candidate.solution];
        let mut values = solution.values.clone();
        let near = self.neighbours(model, solution);
        for (&part, at) in model
            .stage
            .grouping()
            .solved
            .iter()
            .zip(coded(&near, candidate.code))
        {
            values[part] = self.lists[part][at];
        }
        for movement in moves(model, &self.pinned) {
            if let Move::Divider { upper, lower, .. } = movement {
                let shop = divider::Shop {
                    model,
                    uppers: &self.lists[upper],
                    lowers: &self.lists[lower],
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
        let terms = terms_at(model, &values, Some(&solution.figures), &mut self.scratch);
        let miss = model.stage.term_shape().miss(&terms);
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

/// The places that a code stands for, one of each range.
fn coded(ranges: &[Range<usize>], mut code: usize) -> impl Iterator<Item = usize> + use<'_> {
    ranges.iter().map(move |range| {
        let at = range.start + code % range.len();
        code /= range.len();
        at
    })
}
