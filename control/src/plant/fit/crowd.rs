//! Data reduction for the fit: points of a sweep, one by one or averaged in runs.

use std::ops::Range;

use super::data::{Data, Scale};
use crate::numerics::put_in_order;
use crate::plant::sweep::condense::{averaged, runs};
use crate::plant::{Model, Point, Sweep};

/// So many points are worked on as they are.
const FEW: usize = 400;
/// So many are refined one by one at the end.
const MANY: usize = 5000;

/// Which points of a sweep the points that are worked on stand for.
#[derive(Clone, Debug)]
pub(super) struct Crowd {
    /// The first point of the sweep that is fitted.
    first: usize,
    /// Counted from the first; none where each point stands for itself.
    runs: Option<Vec<Range<usize>>>,
}

impl Crowd {
    /// Each point from the first on for itself.
    pub fn each(first: usize) -> Crowd {
        Crowd { first, runs: None }
    }

    pub fn is_each(&self) -> bool {
        self.runs.is_none()
    }

    /// The points in runs round a model; none where they are few. `data` are they as they are.
    pub fn condensed(
        &self,
        sweep: &Sweep,
        model: &Model,
        scale: Scale,
        data: &Data,
    ) -> Option<(Crowd, Data)> {
        let count = data.omega.len();
        if count <= FEW {
            return None;
        }
        let points = &sweep.points[self.first..self.first + count];
        Some(self.in_runs(points, model, scale))
    }

    fn in_runs(&self, points: &[Point], model: &Model, scale: Scale) -> (Crowd, Data) {
        let runs = runs(points, model, 1.0);
        let few = averaged(points, &runs, model);
        let crowd = Crowd {
            first: self.first,
            runs: Some(runs),
        };
        (crowd, Data::of(&few, scale))
    }

    /// All points by themselves; where they are very many, in runs round the model.
    pub fn spread_out(&self, sweep: &Sweep, model: &Model, scale: Scale) -> (Crowd, Data) {
        let count = self
            .runs
            .as_ref()
            .and_then(|runs| runs.last())
            .map_or(0, |run| run.end);
        let points = &sweep.points[self.first..self.first + count];
        if count <= MANY {
            return (Crowd::each(self.first), Data::of(points, scale));
        }
        // Far points stand alone in their runs, so that they can be left out again.
        self.in_runs(points, model, scale)
    }

    /// Indices into the sweep of what points stand for, in ascending order.
    pub fn members(&self, places: &[usize]) -> Vec<usize> {
        let mut all: Vec<usize> = match &self.runs {
            None => places.iter().map(|i| self.first + i).collect(),
            Some(runs) => {
                let members = places
                    .iter()
                    .filter_map(|&i| runs.get(i))
                    .cloned()
                    .flatten();
                members.map(|i| self.first + i).collect()
            }
        };
        put_in_order(&mut all, usize::cmp);
        all
    }

    /// The points that stand for some of the sweep's.
    pub fn places(&self, members: &[usize]) -> Vec<usize> {
        let own = members.iter().map(|i| i - self.first);
        match &self.runs {
            None => own.collect(),
            Some(runs) => {
                let mut places: Vec<usize> = own
                    .map(|i| runs.partition_point(|run| run.end <= i))
                    .collect();
                places.dedup();
                places
            }
        }
    }
}
