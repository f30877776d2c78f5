//! Where a stage's noise is looked at.

use crate::response::{Transfer, resolving_grid};

/// Points a decade, before poles and zeros ask for more. Between two of them the density of a corner is off by some
/// 0.05 %, and the rms over a band by less.
const PER_DECADE: f64 = 40.0;
/// Roots that are resolved at most: those of the largest stages are fewer.
const MOST_ROOTS: usize = 24;

/// Frequencies over a band (Hz, its ends included), closer where a response bends sharply.
pub fn grid(band: (f64, f64), response: &Transfer) -> Vec<f64> {
    grid_of(band, response, PER_DECADE)
}

/// The same with so many points a decade.
pub fn grid_of((from, to): (f64, f64), response: &Transfer, per_decade: f64) -> Vec<f64> {
    let count = ((to / from).log10() * per_decade).ceil() as usize + 2;
    let mut roots = response.poles();
    roots.extend(response.zeros());
    roots.retain(|root| root.im > 0.0 && root.re.is_finite() && root.im.is_finite());
    roots.truncate(MOST_ROOTS);
    resolving_grid(from, to, count, &roots)
}
