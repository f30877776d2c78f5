//! Coordinate descent along the shelf for a set outside the limits, as long as its largest deviation becomes smaller.

use std::task::Poll;

use super::knobs::{Knobs, Places};
use super::lists::Lists;
use crate::stages::{Model, Scratch};

/// Sets that are looked at in all.
const LOOKED_AT: usize = 6000;
const LOOKED_AT_BY_TWOS: usize = 60_000;
/// Sets that are looked at in one step.
const ABREAST: usize = 48;

pub(super) struct Polish {
    knobs: Knobs,
    /// Sets that are still to be started from; the last is next.
    starts: Vec<Vec<f64>>,
    at: Option<Ascent>,
    left: usize,
    /// Whether all values nearby of any two parts are looked at.
    pub is_by_twos: bool,
    /// What was arrived at.
    pub found: Vec<Vec<f64>>,
}

/// One set on its way.
struct Ascent {
    places: Places,
    miss: f64,
    /// How many of the ways to move have been tried from here without gain.
    tried: usize,
}

impl Polish {
    /// From each of these sets.
    pub fn new(model: &Model, lists: &Lists, mut starts: Vec<Vec<f64>>) -> Polish {
        starts.reverse();
        Polish {
            knobs: Knobs::new(model, lists),
            starts,
            at: None,
            left: LOOKED_AT,
            is_by_twos: false,
            found: Vec::new(),
        }
    }

    /// The same with a look at all values nearby of any two parts, which finds what single steps do not come by.
    pub fn by_twos(self) -> Polish {
        Polish {
            knobs: self.knobs.by_twos(),
            left: LOOKED_AT_BY_TWOS,
            is_by_twos: true,
            ..self
        }
    }

    /// Looks at a few more sets; ready when there are none left.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> Poll<()> {
        if self.knobs.count() == 0 {
            return Poll::Ready(());
        }
        let Some(mut at) = self.at.take() else {
            let Some(start) = self.starts.pop().filter(|_| self.left > 0) else {
                return Poll::Ready(());
            };
            let places = self.knobs.places(lists, &start);
            let only = std::iter::once((&places, f64::INFINITY));
            let miss = self.knobs.misses(model, lists, only, scratch)[0];
            self.at = Some(Ascent {
                places,
                miss,
                tried: 0,
            });
            return Poll::Pending;
        };
        let ways = self.knobs.ways();
        let sets: Vec<Places> = (at.tried..ways)
            .take(ABREAST)
            .map(|way| self.knobs.moved(lists, &at.places, way))
            .collect();
        let bounded = sets.iter().map(|places| (places, at.miss));
        let misses = self.knobs.misses(model, lists, bounded, scratch);
        self.left = self.left.saturating_sub(sets.len());
        at.tried += sets.len();
        let best = (0..sets.len()).min_by(|&a, &b| misses[a].total_cmp(&misses[b]));
        if let Some(best) = best.filter(|&best| misses[best] < at.miss * (1.0 - 1e-9)) {
            at = Ascent {
                places: sets[best].clone(),
                miss: misses[best],
                tried: 0,
            };
        }
        if at.tried < ways && self.left > 0 {
            self.at = Some(at);
        } else {
            self.found.push(self.knobs.values(lists, &at.places));
        }
        Poll::Pending
    }
}
