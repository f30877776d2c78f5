//! Last step for the first pick: its neighbours on the shelf are ranked by exact, not predicted, deviations.

use std::sync::Arc;

use super::knobs::{Knobs, Places};
use super::lists::Lists;
use crate::numerics::Scatter;
use crate::stages::{Model, Scratch};

/// From so many sets at most.
const ROUNDS: usize = 5;
/// Sets that are looked at in one step.
const ABREAST: usize = 24;

pub(super) struct Touch {
    knobs: Knobs,
    /// Where all this is next to.
    values: Vec<f64>,
    places: Places,
    /// How its boards scatter.
    pub scatter: Arc<Scatter>,
    /// The next way to move from there.
    way: usize,
    rounds: usize,
}

impl Touch {
    pub fn new(model: &Model, lists: &Lists, values: &[f64], scatter: Scatter) -> Touch {
        let knobs = Knobs::new(model, lists);
        Touch {
            places: knobs.places(lists, values),
            values: values.to_vec(),
            scatter: Arc::new(scatter),
            knobs,
            way: 0,
            rounds: ROUNDS,
        }
    }

    /// The next few sets that hold the limits as marked; none when all round the first one were given.
    pub fn next(
        &mut self,
        model: &Model,
        lists: &Lists,
        scratch: &mut Scratch,
    ) -> Option<Vec<Vec<f64>>> {
        let ways = self.knobs.ways();
        if self.knobs.count() == 0 || self.way >= ways {
            return None;
        }
        let end = (self.way + ABREAST).min(ways);
        let sets: Vec<Vec<f64>> = (self.way..end)
            .map(|way| self.knobs.moved(lists, &self.places, way))
            .map(|places| self.knobs.values(lists, &places))
            .collect();
        self.way = end;
        let bounded = sets.iter().map(|set| (&set[..], 1.0));
        let misses = model.misses_within(bounded, scratch);
        let sets = sets.into_iter().zip(misses);
        Some(
            sets.filter_map(|(set, miss)| (miss <= 1.0).then_some(set))
                .collect(),
        )
    }

    /// Goes on from another first pick; false where it is the same, and where there have been enough.
    pub fn go_on_from(&mut self, lists: &Lists, values: &[f64]) -> bool {
        if self.values == values {
            return false;
        }
        self.values = values.to_vec();
        self.rounds -= 1;
        self.way = 0;
        self.places = self.knobs.places(lists, values);
        self.rounds > 0
    }
}
