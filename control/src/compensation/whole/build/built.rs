//! A candidate built of real parts.

use crate::compensation::whole::{Reading, WholeStage};

/// Stages as they are built, and the loop with them.
#[derive(Clone)]
pub(in crate::compensation::whole) struct BuiltWhole {
    pub stages: Vec<WholeStage>,
    /// What the summing point must do, as in [`crate::feedback::OpenLoop`].
    pub sign: f64,
    pub reading: Reading,
    /// The worst miss of the picks, in limits.
    pub parts_miss: f64,
    /// How far off the wish, as [`Reading::miss`] has it.
    pub miss: f64,
    /// Up to where the margin may come, degrees.
    pub most_margin: f64,
}

impl BuiltWhole {
    pub fn holds(&self) -> bool {
        self.miss <= 1.0 && self.parts_miss <= 1.0
    }

    /// Less off, or as much with fewer stages.
    pub fn is_better_than(&self, other: &BuiltWhole) -> bool {
        let order = |b: &BuiltWhole| (b.miss.max(b.parts_miss), b.stages.len());
        let (own, other) = (order(self), order(other));
        own.0.total_cmp(&other.0).then(own.1.cmp(&other.1)).is_lt()
    }
}
