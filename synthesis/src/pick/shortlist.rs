//! Sets of shelf values that wait to be finished: those that promise to hold the limits, and where there are few of
//! them the ones that come nearest.

use std::cmp::Ordering;

use super::comfort::Weights;
use crate::numerics::put_in_order;

/// A prediction may be wrong by so much, in limits.
const SLACK: f64 = 0.1;
/// So many sets at the most that promise to hold the limits; beyond, those of the fewest points stay.
const MOST: usize = 40_000;
/// And so many of those that do not.
const NEAREST: usize = 60;

/// A set, by its place round a solution.
#[derive(Clone, Copy, Debug)]
pub(super) struct Waiting {
    /// Which solution it stands round.
    pub solution: usize,
    /// Which neighbours of the exact values it has, as one number.
    pub code: usize,
    /// Its worst miss, at least.
    pub miss: f64,
    /// Its points as far as they are known, with those for the miss.
    pub points: f64,
}

impl Waiting {
    pub fn is_same(&self, other: &Waiting) -> bool {
        (self.solution, self.code) == (other.solution, other.code)
    }
}

pub(super) struct Shortlist {
    held: Vec<Waiting>,
    others: Vec<Waiting>,
    weights: Weights,
    /// Points beyond which a set no longer comes on the list.
    most_points: f64,
}

/// Fewest points first.
fn by_points(a: &Waiting, b: &Waiting) -> Ordering {
    a.points.total_cmp(&b.points)
}

impl Shortlist {
    pub fn new(weights: Weights) -> Shortlist {
        Shortlist {
            held: Vec::new(),
            others: Vec::new(),
            weights,
            most_points: f64::INFINITY,
        }
    }

    /// A set whose miss is at least this is of no use.
    pub fn useless(&self) -> f64 {
        if self.held.len() >= NEAREST {
            return 1.0 + SLACK;
        }
        match self.others.len() < NEAREST {
            true => f64::INFINITY,
            false => (self.others.last()).map_or(f64::INFINITY, |set| set.miss),
        }
    }

    /// Takes in a set; `points` are those of its parts.
    pub fn offer(&mut self, (solution, code): (usize, usize), miss: f64, points: f64) {
        let set = Waiting {
            solution,
            code,
            miss,
            points: points + self.weights.miss * miss,
        };
        if miss <= 1.0 + SLACK && set.points < self.most_points {
            self.held.push(set);
            if self.held.len() > MOST {
                let (_, middle, _) = self.held.select_nth_unstable_by(MOST / 2, by_points);
                self.most_points = middle.points;
                self.held.truncate(MOST / 2);
            }
        } else if self.held.len() < NEAREST && miss < self.useless() {
            let place = self.others.partition_point(|other| other.miss <= miss);
            self.others.insert(place, set);
            self.others.truncate(NEAREST);
        }
    }

    /// Those that promise to hold the limits, fewest points first, `most` at most.
    pub fn promising(&mut self, most: usize) -> Vec<Waiting> {
        if self.held.len() > most {
            self.held.select_nth_unstable_by(most, by_points);
        }
        let mut first = self.held[..most.min(self.held.len())].to_vec();
        put_in_order(&mut first, by_points);
        first
    }

    /// Those that come nearest to the limits, but do not hold them.
    pub fn nearest(&self) -> &[Waiting] {
        &self.others
    }
}
