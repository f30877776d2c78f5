//! The search over the shelf.

use std::collections::BTreeMap;
use std::ops::Range;

use super::combinations::Combinations;
use super::divider::{self, least_squares};
use super::exact::{self, Move, Solution, moves};
use super::rank::{Rank, discomfort_of, distinct, rank, step_of};
use crate::parts::Shelf;
use crate::stages::{Alike, Model, Scratch};

/// How many sets are kept: the best and the twelve next-best.
pub const KEPT: usize = 13;
/// Shelf values tried on each side of a solved part's exact value, by how many parts are solved: about
/// two hundred sets round each solution.
fn neighbours_each_side(solved: usize) -> usize {
    match solved {
        0..=3 => 3,
        4 => 2,
        _ => 1,
    }
}
/// So many sets are given their dividers at most, best bounds first: where an ask is out of reach,
/// bounds promise what no set can keep and would have every set tried.
const MOST_FINISHED: usize = 1000;
/// Of more solved parts than this, the last take the nearest value only.
const BOTH_SIDES: usize = 8;
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
    combinations: Combinations,
    solutions: Vec<Solution>,
    /// By the step of their bounds; only the lowest step is ever put in order.
    candidates: BTreeMap<u32, Vec<Candidate>>,
    /// The lowest step's candidates, best last.
    current: Vec<Candidate>,
    kept: Vec<Pick>,
    finished: usize,
    scratch: Scratch,
}

impl Search {
    /// Prepares the search; `pins` fixes parts (by netlist position) to a value of any size.
    pub fn new(model: &Model, shelf: &Shelf, pins: &BTreeMap<usize, f64>) -> Search {
        let parts = model.netlist.parts();
        let lists: Vec<Vec<f64>> = parts
            .iter()
            .enumerate()
            .map(
                |(index, part)| match (pins.get(&index), part.kind.bin(shelf)) {
                    (Some(&value), _) => vec![value],
                    (None, Some(bin)) if model.bought[index] => bin.values(),
                    (None, _) => vec![model.given(index)],
                },
            )
            .collect();
        let discomforts = lists
            .iter()
            .zip(parts)
            .map(|(list, part)| list.iter().map(|&v| discomfort_of(part.kind, v)).collect())
            .collect();
        let pinned: Vec<bool> = (0..parts.len())
            .map(|index| pins.contains_key(&index))
            .collect();
        Search {
            combinations: Combinations::new(model, &lists, &pinned, |part, value| {
                discomfort_of(parts[part].kind, value)
            }),
            pinned,
            lists,
            discomforts,
            solutions: Vec::new(),
            candidates: BTreeMap::new(),
            current: Vec::new(),
            kept: Vec::new(),
            finished: 0,
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
                .take_while(|_| self.combinations.look(model, &self.lists, &self.pinned))
                .count();
            if looked > 0 {
                continue;
            }
            match self.combinations.next() {
                Some(number) => self.solve_combination(model, number),
                None => break,
            }
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
                || self.finished == MOST_FINISHED
            {
                return true;
            }
            if !go_on() {
                return false;
            }
            self.finished += 1;
            if let Some(candidate) = self.current.pop() {
                self.finish_candidate(model, &candidate);
            }
        }
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

    /// Whether the list is full of sets at least as good as this bound.
    fn cannot_beat(&self, bound: &Rank) -> bool {
        self.kept.len() == KEPT
            && self
                .kept
                .last()
                .is_some_and(|worst| worst.rank.order(bound).is_le())
    }

    /// Solves one combination of chosen parts and lists the shelf's values round the solution.
    fn solve_combination(&mut self, model: &Model, number: usize) {
        let mut values: Vec<f64> = self.lists.iter().map(|list| list[0]).collect();
        self.combinations.put(number, &mut values);
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

    /// Where the shelf's values on both sides of each solved part's exact value stand in its list.
    fn neighbours(&self, model: &Model, solution: &Solution) -> Vec<Range<usize>> {
        let solved = model.stage.grouping().solved;
        let each_side = neighbours_each_side(solved.len());
        let near = |(index, parts): (usize, &Alike)| {
            let lead = self.lead(parts);
            let (list, value) = (&self.lists[lead], solution.values[lead]);
            let at = list.partition_point(|v| *v < value);
            if index < BOTH_SIDES {
                return at.saturating_sub(each_side)..(at + each_side).min(list.len());
            }
            let above = at.min(list.len() - 1);
            let below = at.saturating_sub(1);
            let nearer_below = value / list[below] < list[above] / value;
            let nearest = if nearer_below { below } else { above };
            nearest..nearest + 1
        };
        solved.iter().enumerate().map(near).collect()
    }

    /// The one of parts that are alike whose value they all have: a pinned one if there is one.
    fn lead(&self, parts: Alike) -> usize {
        let pinned = parts.iter().copied().find(|&part| self.pinned[part]);
        pinned.unwrap_or(parts[0])
    }

    /// Gives parts that are alike a value, but for those that are pinned to another.
    fn put(&self, parts: Alike, value: f64, values: &mut [f64]) {
        for &part in parts {
            values[part] = if self.pinned[part] {
                self.lists[part][0]
            } else {
                value
            };
        }
    }

    fn list_candidates(&mut self, model: &Model, solution: &Solution, index: usize) {
        let grouping = model.stage.grouping();
        let near = self.neighbours(model, solution);
        let count: usize = near.iter().map(|n| n.len()).product();
        let movement = moves(model, &self.pinned);
        let shape = model.term_shape();
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
            .filter(|&&part| {
                model.bought[part] && !grouping.solved.iter().any(|g| g.contains(&part))
            })
            .map(|&part| discomfort_of(kind(part), set[part]))
            .sum::<f64>()
            - 1e-9;
        let mut terms = solution.terms.clone();
        let mut moved = vec![0.0f64; terms.len()];
        let mut listed = Vec::with_capacity(count);
        for code in 0..count {
            terms.copy_from_slice(&solution.terms);
            let mut furthest = 0.0f64;
            moved.fill(0.0);
            let mut discomfort = standing;
            for (&parts, at) in grouping.solved.iter().zip(coded(&near, code)) {
                let lead = self.lead(parts);
                let value = self.lists[lead][at];
                discomfort += parts.len() as f64 * self.discomforts[lead][at];
                self.put(parts, value, &mut set);
                let Some(m) = movement.iter().position(|m| *m == Move::Parts(parts)) else {
                    continue;
                };
                let by = (value / solution.values[lead]).ln();
                furthest = furthest.max(by.abs());
                for ((term, slope), moved) in
                    terms.iter_mut().zip(&solution.slopes[m]).zip(&mut moved)
                {
                    *term += slope * by;
                    *moved = moved.max((slope * by).abs());
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
            // Each term may be wrong by as much as it was moved, and by no more.
            let sure = terms
                .iter()
                .zip(&moved)
                .map(|(term, moved)| (term.abs() * 0.95 - furthest * moved).max(0.0));
            let miss = shape.miss_of(sure) - SLACK;
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
        let solved = model.stage.grouping().solved;
        for (&parts, at) in solved.iter().zip(coded(&near, candidate.code)) {
            self.put(parts, self.lists[self.lead(parts)][at], &mut values);
        }
        for movement in moves(model, &self.pinned) {
            if let Move::Divider { upper, lower, .. } = movement {
                let shop = divider::Shop {
                    model,
                    uppers: &self.lists[upper],
                    lowers: &self.lists[lower],
                    upper_discomforts: &self.discomforts[upper],
                    lower_discomforts: &self.discomforts[lower],
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

/// The places that a code stands for, one of each range.
fn coded(ranges: &[Range<usize>], mut code: usize) -> impl Iterator<Item = usize> + use<'_> {
    ranges.iter().map(move |range| {
        let at = range.start + code % range.len();
        code /= range.len();
        at
    })
}
