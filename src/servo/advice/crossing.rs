//! The crossover at which a notch costs phase.

use std::f64::consts::TAU;

use super::super::{Margins, Mode, OpenLoop, trace, whole_range};
use super::peak::PeakBox;
use crate::response::Transfer;

/// A peak that stands up through 1 leaves it again within so much, as a ratio.
const ISLAND: f64 = 2.0;

/// Where the loop crosses over, Hz: |L| falls through 1 for the last time, peaks left out. Where the peak of
/// this mode is grown together with the band, it is where the loop would cross without that peak.
pub(super) fn crossover(open: &OpenLoop, mode: &Mode, peak: &PeakBox) -> Option<f64> {
    let as_it_is = main_fall(open);
    if as_it_is.is_some_and(|f| f < peak.range.0) {
        return as_it_is;
    }
    let flat = Transfer {
        num: vec![1.0, 2.0 * mode.damping, 1.0],
        den: vec![1.0, 1.4, 1.0],
        omega: TAU * mode.frequency,
    };
    let mut without = open.clone();
    without.stages.push(&flat);
    main_fall(&without)
        .filter(|f| *f < peak.range.0)
        .or(as_it_is)
}

/// The last fall of |L| through 1 that is not the far side of a peak; or else the last.
pub(super) fn main_fall(open: &OpenLoop) -> Option<f64> {
    let (low, high) = whole_range(open);
    let margins = Margins::read(open, &trace(open, low, high));
    let crossings = &margins.gain_crossings;
    let falls = || (0..crossings.len()).rev().filter(|k| crossings[*k].falls);
    let is_main = |k: &usize| {
        let rise = k.checked_sub(1).map(|before| crossings[before].frequency);
        rise.is_none_or(|rise| crossings[*k].frequency > ISLAND * rise)
    };
    let main = falls().find(is_main).or_else(|| falls().next())?;
    Some(crossings[main].frequency)
}
