//! A figure over all boards: quantiles and a histogram.

use serde::{Deserialize, Serialize};

/// Counts between equally spaced edges.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Histogram {
    pub low: f64,
    pub high: f64,
    pub counts: Vec<u32>,
}

impl Histogram {
    /// Counts `values` in `bins` bins from `low` to `high`; what lies outside is counted at the ends.
    pub fn new(values: &[f64], low: f64, high: f64, bins: usize) -> Histogram {
        let mut counts = vec![0; bins];
        let scale = bins as f64 / (high - low);
        for value in values {
            let bin = ((value - low) * scale).clamp(0.0, bins as f64 - 1.0);
            counts[bin as usize] += 1;
        }
        Histogram { low, high, counts }
    }
}

/// The `p`-quantile of unsorted values, which are reordered: linear between order statistics
/// (Hyndman and Fan, "Sample quantiles in statistical packages", type 7). NaN for none.
pub fn quantile(values: &mut [f64], p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let place = p * (values.len() - 1) as f64;
    let (whole, part) = (place.floor() as usize, place.fract());
    let (_, &mut low, above) = values.select_nth_unstable_by(whole, f64::total_cmp);
    let high = above.iter().copied().fold(f64::INFINITY, f64::min);
    if part == 0.0 || above.is_empty() {
        low
    } else {
        low + part * (high - low)
    }
}
