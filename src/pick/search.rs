//! The search over the shelf.

use std::collections::BTreeMap;

use super::exact::{self, Move, Solution, moves, slopes_at, terms_at};
use super::rank::{Rank, bother, discomfort_of, rank, step_of};
use crate::circuit::Kind;
use crate::parts::Shelf;
use crate::stages::{Model, Scratch, Terms};

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
const CLOSE: f64 = 3e-3;

/// A candidate that waits for its dividers.
struct Candidate {
    /// No set from this candidate ranks before this.
    bound: Rank,
    solution: usize,
    /// Values of the solved parts.
    solved: Vec<f64>,
}

/// The search, in slices: [`Search::advance`] until it says that it is done.
pub struct Search {
    /// Values that each part may have.
    lists: Vec<Vec<f64>>,
    pinned: Vec<bool>,
    /// Combinations of chosen parts still to be solved, counted down from the last.
    combination: usize,
    combinations: usize,
    solutions: Vec<Solution>,
    candidates: Vec<Candidate>,
    next_candidate: Option<usize>,
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
        let chosen = model.stage.grouping().chosen;
        Search {
            combination: 0,
            combinations: chosen.iter().map(|&part| lists[part].len()).product(),
            pinned: (0..parts.len())
                .map(|index| pins.contains_key(&index))
                .collect(),
            lists,
            solutions: Vec::new(),
            candidates: Vec::new(),
            next_candidate: None,
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
        let mut index = match self.next_candidate {
            Some(index) => index,
            None => {
                self.candidates.sort_by(|a, b| a.bound.order(&b.bound));
                0
            }
        };
        loop {
            self.next_candidate = Some(index);
            let Some(candidate) = self.candidates.get(index) else {
                return true;
            };
            if self.cannot_beat(&candidate.bound) {
                return true;
            }
            if !go_on() {
                return false;
            }
            self.finish_candidate(model, index);
            index += 1;
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
        if off > 1.0f64.exp2().ln()
            && self.solutions.len() + self.combinations - self.combination > 1
        {
            return;
        }
        let Some(solution) = exact::solve(model, &values, &self.pinned, CLOSE, &mut self.scratch)
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
            .filter_map(|&part| {
                let list = &self.lists[part];
                let (low, high) = (list.first()?, list.last()?);
                Some((low / values[part]).max(values[part] / high).ln().max(0.0))
            })
            .fold(0.0, f64::max)
    }

    fn list_candidates(&mut self, model: &Model, solution: &Solution, index: usize) {
        let solved = model.stage.grouping().solved;
        let near: Vec<&[f64]> = solved
            .iter()
            .map(|&part| {
                let list = &self.lists[part];
                let at = list.partition_point(|v| *v < solution.values[part]);
                &list[at.saturating_sub(NEIGHBOURS)..(at + NEIGHBOURS).min(list.len())]
            })
            .collect();
        let count: usize = near.iter().map(|n| n.len()).product();
        let movement = moves(model, &self.pinned);
        let shape = model.stage.term_shape();
        // Parts whose values a candidate knows: all but the dividers'.
        let dividers = model.stage.grouping().dividers;
        let settled: Vec<usize> = (0..self.lists.len())
            .filter(|part| {
                self.pinned[*part] || !dividers.iter().any(|(u, l)| u == part || l == part)
            })
            .collect();
        for mut code in 0..count {
            let mut values = Vec::with_capacity(solved.len());
            let mut terms = solution.terms.clone();
            let (mut furthest, mut moved) = (0.0f64, 0.0f64);
            for (list, &part) in near.iter().zip(solved) {
                let value = list[code % list.len()];
                code /= list.len();
                values.push(value);
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
            for (m, _) in movement
                .iter()
                .enumerate()
                .filter(|(_, m)| matches!(m, Move::Divider { .. }))
            {
                let slope = &solution.slopes[m];
                let along = least_squares(&terms, slope);
                terms
                    .iter_mut()
                    .zip(slope)
                    .for_each(|(t, s)| *t += s * along);
            }
            let predicted = shape.miss(&terms);
            let mut set = solution.values.clone();
            for (&part, &value) in solved.iter().zip(&values) {
                set[part] = value;
            }
            let (distinct, discomfort) = bother(model, &set, &settled);
            self.candidates.push(Candidate {
                bound: Rank {
                    step: step_of((predicted * 0.95 - SLACK - furthest * moved).max(0.0)),
                    distinct,
                    discomfort,
                    miss: 0.0,
                },
                solution: index,
                solved: values,
            });
        }
    }

    /// Gives a candidate its dividers and keeps the set if it is among the best.
    fn finish_candidate(&mut self, model: &Model, index: usize) {
        let candidate = &self.candidates[index];
        let solution = &self.solutions[candidate.solution];
        let mut values = solution.values.clone();
        for (&part, &value) in model.stage.grouping().solved.iter().zip(&candidate.solved) {
            values[part] = value;
        }
        let hint = solution.figures.clone();
        for movement in moves(model, &self.pinned) {
            if let Move::Divider { upper, lower, .. } = movement {
                let Some(chosen) =
                    self.choose_divider(model, &values, &hint, movement, (upper, lower))
                else {
                    return;
                };
                values = chosen;
            }
        }
        let terms = terms_at(model, &values, Some(&hint), &mut self.scratch);
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

    /// The best pair for one divider, all other values standing.
    fn choose_divider(
        &mut self,
        model: &Model,
        values: &[f64],
        hint: &[f64],
        movement: Move,
        (upper, lower): (usize, usize),
    ) -> Option<Vec<f64>> {
        let shape = model.stage.term_shape();
        // Two rounds: the gain is linear in the fraction, figures nearly so.
        let mut base = values.to_vec();
        let mut terms = terms_at(model, &base, Some(hint), &mut self.scratch);
        let mut slope =
            slopes_at(model, &base, &terms, hint, &[movement], &mut self.scratch).remove(0);
        movement.go(&mut base, least_squares(&terms, &slope));
        terms = terms_at(model, &base, Some(hint), &mut self.scratch);
        if terms.iter().any(|t| !t.is_finite()) {
            return None;
        }
        if shape.miss(&terms) > super::STEP {
            slope = slopes_at(model, &base, &terms, hint, &[movement], &mut self.scratch).remove(0);
        }
        let centre = movement.position(&base);
        let (uppers, lowers) = (&self.lists[upper], &self.lists[lower]);
        let up_to = |above: f64, limit: f64| {
            lowers.partition_point(|below| below / (above + below) <= limit)
        };
        let (mut under, mut over) = (0.0f64, 1.0f64);
        for &above in uppers {
            let at = up_to(above, centre);
            let fraction = |below: f64| below / (above + below);
            under = lowers[..at]
                .last()
                .map_or(under, |&below| under.max(fraction(below)));
            over = lowers[at..]
                .first()
                .map_or(over, |&below| over.min(fraction(below)));
        }
        // Only the fraction counts, so it may be tried without a pair that has it.
        let scratch = &mut self.scratch;
        let mut exact = |fraction: f64| {
            let mut trial = base.clone();
            movement.go(&mut trial, fraction - centre);
            terms_at(model, &trial, Some(hint), scratch)
        };
        let least = shape.miss(&exact(under)).min(shape.miss(&exact(over)));
        // Everything up to the end of the step of the least miss is as good, for its first key.
        let end = f64::from(step_of(least) + 1) * super::STEP;
        let line = Bend {
            centre,
            terms,
            slope,
            curve: Vec::new(),
        };
        let far = [
            line.edge(shape, end, 0.0).min(under),
            line.edge(shape, end, 1.0).max(over),
        ];
        let bend = line.through(far, far.map(&mut exact));
        let lowest = bend.edge(shape, end, 0.0).min(under) - 1e-12;
        let highest = bend.edge(shape, end, 1.0).max(over) + 1e-12;
        let mut options: Vec<(u32, u32, f64, f64, f64)> = Vec::new();
        let mut trial = base.clone();
        let others: Vec<usize> = (0..trial.len())
            .filter(|&p| p != upper && p != lower)
            .collect();
        let (others_distinct, others_discomfort) = bother(model, &trial, &others);
        let kind = |part: usize| model.netlist.parts()[part].kind;
        let is_there = |value: f64| {
            others
                .iter()
                .any(|&p| kind(p).is_like(kind(upper)) && values[p] == value)
        };
        let there: Vec<bool> = lowers.iter().map(|&value| is_there(value)).collect();
        let discomforts: Vec<f64> = lowers
            .iter()
            .map(|&value| discomfort_of(kind(lower), value))
            .collect();
        for &above in uppers {
            let here = others_discomfort + discomfort_of(kind(upper), above);
            let new_above = u32::from(!is_there(above));
            for at in up_to(above, lowest)..up_to(above, highest) {
                let below = lowers[at];
                let fraction = below / (above + below);
                let optimistic =
                    step_of((bend.miss(shape, fraction) - bend.doubt(fraction)).max(0.0));
                let discomfort = here + discomforts[at];
                let distinct =
                    others_distinct + new_above + u32::from(!there[at] && below != above);
                options.push((optimistic, distinct, discomfort, above, below));
            }
        }
        options.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)));
        let mut best: Option<(Rank, Vec<f64>)> = None;
        for (optimistic, distinct, discomfort, above, below) in options {
            let bound = Rank {
                step: optimistic,
                distinct,
                discomfort,
                miss: 0.0,
            };
            if best
                .as_ref()
                .is_some_and(|(found, _)| found.order(&bound).is_le())
                || self.cannot_beat(&bound)
            {
                break;
            }
            (trial[upper], trial[lower]) = (above, below);
            let found = terms_at(model, &trial, Some(hint), &mut self.scratch);
            let found = Rank {
                distinct,
                discomfort,
                ..rank(model, &trial, shape.miss(&found))
            };
            if best
                .as_ref()
                .is_none_or(|(known, _)| found.order(known).is_lt())
            {
                best = Some((found, trial.clone()));
            }
        }
        best.map(|(_, values)| values)
    }
}

/// How the terms move with a divider's fraction: a parabola for each.
struct Bend {
    centre: f64,
    terms: Vec<f64>,
    slope: Vec<f64>,
    /// Second-order parts; none for straight lines.
    curve: Vec<f64>,
}

impl Bend {
    /// The parabolas that also meet `terms` at two more fractions.
    fn through(self, [left, right]: [f64; 2], [at_left, at_right]: [Vec<f64>; 2]) -> Bend {
        let (a, b) = (left - self.centre, right - self.centre);
        if !(a < 0.0 && b > 0.0) || at_left.iter().chain(&at_right).any(|t| !t.is_finite()) {
            return self;
        }
        let mut bent = Bend {
            curve: vec![0.0; self.terms.len()],
            ..self
        };
        for (index, term) in bent.terms.iter().enumerate() {
            let (left, right) = ((at_left[index] - term) / a, (at_right[index] - term) / b);
            bent.curve[index] = (right - left) / (b - a);
            bent.slope[index] = left - bent.curve[index] * a;
        }
        bent
    }

    fn miss(&self, shape: Terms, fraction: f64) -> f64 {
        let by = fraction - self.centre;
        let curve = self.curve.iter().copied().chain(std::iter::repeat(0.0));
        let at = self
            .terms
            .iter()
            .zip(&self.slope)
            .zip(curve)
            .map(|((t, s), c)| t + (s + c * by) * by);
        shape.miss_of(at)
    }

    /// What a prediction may be wrong by.
    fn doubt(&self, fraction: f64) -> f64 {
        let by = fraction - self.centre;
        let bent = self.curve.iter().fold(0.0f64, |most, c| most.max(c.abs()));
        0.1 * bent * by * by + 1e-5
    }

    /// The fraction towards `outside` up to which the miss stays within `end`.
    fn edge(&self, shape: Terms, end: f64, outside: f64) -> f64 {
        let (mut good, mut bad) = (self.centre, outside);
        for _ in 0..30 {
            let middle = 0.5 * (good + bad);
            if self.miss(shape, middle) <= end {
                good = middle;
            } else {
                bad = middle;
            }
        }
        bad
    }
}

/// How far to go along `slope` so that `terms` become least in the sense of squares.
fn least_squares(terms: &[f64], slope: &[f64]) -> f64 {
    let along: f64 = terms.iter().zip(slope).map(|(t, s)| t * s).sum();
    let square: f64 = slope.iter().map(|s| s * s).sum();
    if square > 0.0 { -along / square } else { 0.0 }
}
