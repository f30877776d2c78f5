//! Which of two sets of parts is better.
//!
//! The order, in this one place: sets that hold every limit as marked come before those that do not, and of those
//! that do not the least miss comes first. Among the others the share of good boards counts first, in steps of
//! [`STEP`] below the best one's; then the points of [`super::comfort`], with those for the miss itself.

use std::cmp::Ordering;

use super::comfort::{Bother, Weights};
use super::descend::Place;
use super::judge::Judge;
use crate::stages::{Model, Scratch};

/// Shares of good boards closer than this to the best one's count as equal: what a batch would not show.
pub const STEP: f64 = 0.02;

/// What a set of parts is ordered by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rank {
    /// Worst miss over its limit with parts as marked; 1 is on the limit, infinite is a stage that oscillates.
    pub miss: f64,
    /// Estimated share of boards that hold every limit, from the parts' tolerances ([`super::Judge`]).
    pub share: f64,
    pub bother: Bother,
    /// [`Bother::points`], and those for the miss.
    pub points: f64,
}

impl Rank {
    pub fn new(miss: f64, share: f64, bother: Bother, weights: &Weights) -> Rank {
        Rank {
            miss,
            share,
            bother,
            points: bother.points(weights) + weights.miss * miss,
        }
    }

    /// Of a set that was read, with its `miss` ([`miss_of`]) and its share of good boards.
    pub(super) fn of(
        model: &Model,
        place: &Place,
        (miss, share): (f64, f64),
        weights: &Weights,
    ) -> Rank {
        Rank::new(
            miss,
            share,
            Bother::of(model, &place.values, weights),
            weights,
        )
    }

    /// Whether it holds every limit as marked.
    pub fn holds(&self) -> bool {
        self.miss <= 1.0
    }

    /// How many [`STEP`]s its share lies below the best one's.
    pub fn steps_below(&self, best: f64) -> u32 {
        steps_below(self.share, best)
    }

    /// The order among sets of which the best has this share of good boards.
    pub fn order(&self, other: &Rank, best: f64) -> Ordering {
        let held = other.holds().cmp(&self.holds());
        held.then_with(|| match self.holds() {
            true => (self.steps_below(best).cmp(&other.steps_below(best)))
                .then(self.points.total_cmp(&other.points)),
            false => self.miss.total_cmp(&other.miss),
        })
    }
}

/// How many [`STEP`]s a share of good boards lies below the best one.
pub(super) fn steps_below(share: f64, best: f64) -> u32 {
    // A hair's breadth is no step.
    ((best - share).max(0.0) / STEP + 1e-9) as u32
}

/// Ranks a set of part values; `hint` are figures of a similar set. None when its curve cannot be read.
pub fn rank(
    model: &Model,
    (judge, weights): (&Judge, &Weights),
    values: &[f64],
    hint: Option<&[f64]>,
    scratch: &mut Scratch,
) -> Option<Rank> {
    let place = Place::at(model, values.to_vec(), hint, scratch)?;
    let share = judge.share(model, values, (&place.figures, &place.terms), scratch);
    let miss = miss_of(model, &place, scratch);
    Some(Rank::of(model, &place, (miss, share), weights))
}

/// The worst miss of a set that was read. A curve is read along the frequencies, where one that oscillates looks like any
/// other: that is looked at here, of those that would hold.
pub(super) fn miss_of(model: &Model, place: &Place, scratch: &mut Scratch) -> f64 {
    let miss = place.miss(model.term_shape());
    match miss > 1.0 || model.is_stable(&place.values, scratch) {
        true => miss,
        false => f64::INFINITY,
    }
}

/// The best share of good boards among sets that hold the limits.
pub fn best_share<'a>(ranks: impl IntoIterator<Item = &'a Rank>) -> f64 {
    let held = ranks.into_iter().filter(|rank| rank.holds());
    held.map(|rank| rank.share).fold(0.0, f64::max)
}
