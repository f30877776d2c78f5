//! The loop's whole frequency response, with adaptive steps.

use crate::feedback::{OpenLoop, Traced, trace, whole_range};

/// From the lowest to the highest frequency of a curve at most, as a ratio.
const WIDEST: f64 = 1e60;

/// The whole curve; none where its corners are no numbers, or lie too far apart to be followed.
pub(in crate::compensation) fn followed(open: &OpenLoop) -> Option<Vec<Traced>> {
    let (low, high) = whole_range(open);
    let is_sound = low.is_normal() && high.is_finite() && low < high && high / low < WIDEST;
    is_sound.then(|| trace(open, low, high))
}
