//! A run of neighbouring rows, in a queue for the one that strays most.

use std::cmp::Ordering;
use std::ops::Range;

/// A run and what is gained by halving it.
pub(super) struct Run {
    pub rows: Range<usize>,
    /// Not above 0 where it need not, or cannot, be halved.
    pub variations: f64,
}

impl Ord for Run {
    fn cmp(&self, other: &Run) -> Ordering {
        self.variations
            .total_cmp(&other.variations)
            .then(other.rows.start.cmp(&self.rows.start))
    }
}

impl PartialOrd for Run {
    fn partial_cmp(&self, other: &Run) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Run {
    fn eq(&self, other: &Run) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Run {}
