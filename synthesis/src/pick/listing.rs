//! The shelf's values round a solution: what each set of them promises.

use super::comfort::{Decades, Reach, Weights};
use super::divider::least_squares;
use super::exact::Solution;
use super::lists::Lists;
use super::moves::{Move, moves};
use super::shortlist::Shortlist;
use crate::circuit::Kind;
use crate::numerics::larger;
use crate::stages::{Alike, Model, Terms};

/// What a prediction may be wrong by before its second-order part, in limits.
const SLACK: f64 = 0.01;
/// A term's second-order part is taken to be at most this share of it.
const SECOND_ORDER: f64 = 0.05;

/// A shelf value for parts that are alike, and what it does to a set.
struct Neighbour {
    /// How far it moves each term, with its sign and without.
    by: Vec<(f64, f64)>,
    /// How far it is from the exact value, as ln of the ratio.
    distance: f64,
    strain: f64,
    bought: u128,
    reach: Decades,
}

/// What is known of a set once some of its parts have their values.
#[derive(Clone)]
struct Partial {
    terms: Vec<f64>,
    /// The furthest that each term was moved at once.
    moved: Vec<f64>,
    furthest: f64,
    strain: f64,
    bought: u128,
    reach: Decades,
}

/// All sets of neighbours round one solution, parts put in one after the other, so that sets with the same
/// last parts share what these do.
struct Listing<'a> {
    shape: &'a Terms,
    /// Solved parts' neighbours, in the grouping's order.
    near: Vec<Vec<Neighbour>>,
    /// `bounds[n]`: the first n solved parts cannot bring a term back that is further out than this.
    bounds: Vec<Vec<f64>>,
    /// How a divider's fraction moves the terms.
    dividers: Vec<&'a [f64]>,
    /// One for each solved part and one for the start.
    partial: Vec<Partial>,
    solution: usize,
    weights: Weights,
    /// A set with a miss as large as this is of no use.
    useless: f64,
    list: &'a mut Shortlist,
}

/// Puts the sets round a solution on the list.
pub(super) fn list(
    model: &Model,
    lists: &Lists,
    solution: (usize, &Solution),
    weights: Weights,
    list: &mut Shortlist,
) {
    let (index, solution) = solution;
    let count = solution.terms.len();
    let movement = moves(model, &lists.pinned);
    let mut values = Values::default();
    let start = start(model, lists, (solution, &weights), &mut values);
    let near = neighbours(model, lists, solution, &mut values);
    let most = |neighbours: &[Neighbour], term: usize| {
        let sizes = neighbours.iter().map(|neighbour| neighbour.by[term].1);
        sizes.fold(0.0, f64::max)
    };
    let all = near.iter().flatten();
    let furthest = all.fold(0.0f64, |furthest, neighbour| {
        furthest.max(neighbour.distance)
    });
    let moved = |term: usize| {
        let all = near.iter().map(|neighbours| most(neighbours, term));
        all.fold(0.0, f64::max)
    };
    let useless = list.useless() + SLACK;
    let dividers: Vec<&[f64]> = (movement.iter().zip(&solution.slopes))
        .filter(|(m, _)| matches!(m, Move::Divider { .. }))
        .map(|(_, slope)| slope.as_slice())
        .collect();
    // Each term may be wrong by as much as it is moved; a divider may bring back anything.
    let kept = |term: usize| match dividers.is_empty() {
        true => (useless + furthest * moved(term)) / (1.0 - SECOND_ORDER),
        false => f64::INFINITY,
    };
    let mut bounds: Vec<Vec<f64>> = vec![(0..count).map(kept).collect()];
    for (neighbours, before) in near.iter().zip(0..) {
        let with = |term: usize| bounds[before][term] + most(neighbours, term);
        bounds.push((0..count).map(with).collect());
    }
    let solved = near.len();
    let mut listing = Listing {
        shape: model.term_shape(),
        bounds,
        near,
        dividers,
        partial: (0..=solved).map(|_| start.clone()).collect(),
        solution: index,
        weights,
        useless,
        list,
    };
    listing.put(solved, 0);
}

/// Neighbours on the shelf of each solved part, in the grouping's order.
fn neighbours(
    model: &Model,
    lists: &Lists,
    solution: &Solution,
    values: &mut Values,
) -> Vec<Vec<Neighbour>> {
    let movement = moves(model, &lists.pinned);
    let solved = model.stage.grouping().solved.iter();
    let each = solved.zip(lists.neighbours(model, solution));
    let each = each.map(|(&parts, range)| {
        let mut slopes = movement.iter().zip(&solution.slopes);
        let slope = slopes.find(|(m, _)| **m == Move::Parts(parts));
        let lead = lists.lead(parts);
        let neighbour = |at: usize| {
            let value = lists.values[lead][at];
            let by = (value / solution.values[lead]).ln();
            Neighbour {
                by: match slope {
                    Some((_, slope)) => (slope.iter().map(|slope| slope * by))
                        .map(|by| (by, by.abs()))
                        .collect(),
                    None => vec![(0.0, 0.0); solution.terms.len()],
                },
                distance: if slope.is_some() { by.abs() } else { 0.0 },
                strain: parts.len() as f64 * lists.strains[lead][at],
                bought: values.buy(model, lists, parts, value),
                reach: reach_of(model, lists, parts, value),
            }
        };
        range.map(neighbour).collect()
    });
    each.collect()
}

/// Of parts that are alike.
fn reach_of(model: &Model, lists: &Lists, parts: Alike, value: f64) -> Decades {
    let mut reach = Reach::default();
    for &part in parts.iter().filter(|&&part| model.bought[part]) {
        let own = match lists.pinned[part] {
            true => lists.values[part][0],
            false => value,
        };
        reach.take_in(model.netlist.parts()[part].kind, own);
    }
    reach.decades()
}

/// The set before any solved part has its value: all but the dividers are known to be bought.
fn start(
    model: &Model,
    lists: &Lists,
    (solution, weights): (&Solution, &Weights),
    values: &mut Values,
) -> Partial {
    let grouping = model.stage.grouping();
    let in_divider = |part: usize| (grouping.dividers.iter()).any(|&(u, l)| u == part || l == part);
    let is_solved = |part: usize| grouping.solved.iter().any(|group| group.contains(&part));
    let kind = |part: usize| model.netlist.parts()[part].kind;
    let settled = (0..lists.values.len())
        .filter(|&part| model.bought[part] && !is_solved(part))
        .filter(|&part| lists.pinned[part] || !in_divider(part));
    let (mut strain, mut bought, mut reach) = (0.0, 0, Reach::default());
    for part in settled {
        strain += weights.strain_of(kind(part), solution.values[part]);
        bought |= values.bit(kind(part), solution.values[part]);
        reach.take_in(kind(part), solution.values[part]);
    }
    Partial {
        terms: solution.terms.clone(),
        moved: vec![0.0; solution.terms.len()],
        furthest: 0.0,
        strain,
        bought,
        reach: reach.decades(),
    }
}

impl Listing<'_> {
    /// Puts in the parts before this one in every way; `code` stands for those from it on.
    fn put(&mut self, group: usize, code: usize) {
        let Some(group) = group.checked_sub(1) else {
            self.offer(code);
            return;
        };
        'neighbours: for at in 0..self.near[group].len() {
            let neighbour = &self.near[group][at];
            let [next, before] = &mut self.partial[group..group + 2] else {
                return;
            };
            let moves = before.moved.iter().zip(&before.terms).zip(&neighbour.by);
            let after = next.moved.iter_mut().zip(&mut next.terms);
            let terms = after.zip(moves).zip(&self.bounds[group]);
            for (((next_moved, next_term), ((moved, term), (by, far))), bound) in terms {
                *next_term = term + by;
                if next_term.abs() > *bound {
                    continue 'neighbours;
                }
                *next_moved = larger(*moved, *far);
            }
            next.furthest = larger(before.furthest, neighbour.distance);
            next.strain = before.strain + neighbour.strain;
            next.bought = before.bought | neighbour.bought;
            next.reach = before.reach.with(&neighbour.reach);
            self.put(group, code * self.near[group].len() + at);
        }
    }

    /// Lists the set that is complete now, unless it is of no use.
    fn offer(&mut self, code: usize) {
        let Some(set) = self.partial.first_mut() else {
            return;
        };
        // Dividers can be had nearly exactly, so each takes out what it can.
        for slope in &self.dividers {
            let along = least_squares(&set.terms, slope);
            let terms = set.terms.iter_mut().zip(*slope);
            terms.for_each(|(term, slope)| *term += slope * along);
        }
        // Each term may be wrong by as much as it was moved, and by no more.
        let sure = set.terms.iter().zip(&set.moved).map(|(term, moved)| {
            larger(
                0.0,
                term.abs() * (1.0 - SECOND_ORDER) - set.furthest * moved,
            )
        });
        let miss = (self.shape.miss_of(sure) - SLACK).max(0.0);
        if miss < self.useless {
            let weights = &self.weights;
            let points = weights.value * f64::from(set.bought.count_ones())
                + weights.spread * set.reach.spread()
                + weights.strain * set.strain;
            self.list.offer((self.solution, code), miss, points);
        }
    }
}

/// Values that are to be bought, a bit each. Where there are more than bits, the last are not counted.
#[derive(Default)]
struct Values(Vec<(Kind, f64)>);

impl Values {
    fn bit(&mut self, kind: Kind, value: f64) -> u128 {
        let known = (self.0.iter()).position(|(of, known)| of.is_like(kind) && *known == value);
        let at = known.unwrap_or_else(|| {
            self.0.push((kind, value));
            self.0.len() - 1
        });
        1u128.checked_shl(at as u32).unwrap_or(0)
    }

    /// The bits of parts that are alike.
    fn buy(&mut self, model: &Model, lists: &Lists, parts: Alike, value: f64) -> u128 {
        let bought = parts.iter().filter(|&&part| model.bought[part]);
        let bits = bought.map(|&part| {
            let own = if lists.pinned[part] {
                lists.values[part][0]
            } else {
                value
            };
            self.bit(model.netlist.parts()[part].kind, own)
        });
        bits.fold(0, |all, bit| all | bit)
    }
}
