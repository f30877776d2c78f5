//! The crossover at which a notch costs phase.

use super::followed;
use crate::feedback::{Margins, OpenLoop};
use crate::plant::Model;

/// A peak that stands up through 1 leaves it again within so much, as a ratio.
const ISLAND: f64 = 2.0;
/// Damping at which a mode has no peak.
const WITHOUT_PEAK: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// The plant with one mode so well damped that it has no peak.
pub(super) fn damped(model: &Model, place: usize) -> Model {
    let mut damped = model.clone();
    let mode = &mut damped.modes[place];
    mode.damping = mode.damping.max(WITHOUT_PEAK);
    damped
}

/// The last fall of |L| through 1 that is not the far side of a peak; or else the last.
pub(super) fn main_fall(open: &OpenLoop) -> Option<f64> {
    let margins = Margins::read(open, &followed(open)?);
    let crossings = &margins.gain_crossings;
    let falls = || (0..crossings.len()).rev().filter(|k| crossings[*k].falls);
    let is_main = |k: &usize| {
        let rise = k.checked_sub(1).map(|before| crossings[before].frequency);
        rise.is_none_or(|rise| crossings[*k].frequency > ISLAND * rise)
    };
    let main = falls().find(is_main).or_else(|| falls().next())?;
    Some(crossings[main].frequency)
}
