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
        if high.partial_cmp(&low) != Some(std::cmp::Ordering::Greater) {
            // All alike: a bar in the middle.
            counts[bins / 2] = values.len() as u32;
            return Histogram { low, high, counts };
        }
        let scale = bins as f64 / (high - low);
        for value in values {
            let bin = ((value - low) * scale).clamp(0.0, bins as f64 - 1.0);
            counts[bin as usize] += 1;
        }
        Histogram { low, high, counts }
    }
}

/// Bins of the first look at the values.
const BINS: usize = 1024;

/// Quantiles at the given shares of values in any order: linear between order statistics (Hyndman and
/// Fan, "Sample quantiles in statistical packages", type 7). NaN for no values.
///
/// Only the bins that hold a wanted value are put in order, so a million values take a few passes.
pub fn quantiles<const N: usize>(values: &[f64], shares: [f64; N]) -> [f64; N] {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if values.is_empty() || least == most {
        return [if values.is_empty() { f64::NAN } else { least }; N];
    }
    let scale = (BINS - 1) as f64 / (most - least);
    let bin_of = |value: f64| ((value - least) * scale) as usize;
    let mut counts = [0usize; BINS];
    for &value in values {
        counts[bin_of(value)] += 1;
    }
    let places = shares.map(|share| share.clamp(0.0, 1.0) * (values.len() - 1) as f64);
    let mut wanted = [false; BINS];
    for place in places {
        for index in [place.floor(), place.ceil()] {
            wanted[bin_holding(&counts, index as usize)] = true;
        }
    }
    let mut gathered: Vec<f64> = values
        .iter()
        .copied()
        .filter(|&v| wanted[bin_of(v)])
        .collect();
    gathered.sort_unstable_by(f64::total_cmp);
    // The index-th value of all is so many places further down among the gathered ones.
    let at = |index: usize| {
        let bin = bin_holding(&counts, index);
        let left_out: usize = (0..bin).filter(|&b| !wanted[b]).map(|b| counts[b]).sum();
        gathered[index - left_out]
    };
    places.map(|place| {
        let (low, high) = (at(place.floor() as usize), at(place.ceil() as usize));
        low + place.fract() * (high - low)
    })
}

/// The bin that holds the value at this place in the order.
fn bin_holding(counts: &[usize; BINS], index: usize) -> usize {
    let mut behind = 0;
    counts
        .iter()
        .position(|count| {
            behind += count;
            behind > index
        })
        .unwrap_or(BINS - 1)
}

#[cfg(test)]
mod tests {
    use super::quantiles;

    #[test]
    fn type_7_by_hand() {
        assert_eq!(
            quantiles(&[4.0, 1.0, 3.0, 2.0], [0.0, 0.5, 1.0]),
            [1.0, 2.5, 4.0]
        );
        assert_eq!(quantiles(&[7.0; 5], [0.3]), [7.0]);
        assert!(quantiles(&[], [0.5])[0].is_nan());
    }

    proptest::proptest! {
        #[test]
        fn as_by_sorting(mut values in proptest::collection::vec(-1e6f64..1e6, 1..400), share in 0.0f64..1.0) {
            let [found] = quantiles(&values, [share]);
            values.sort_by(f64::total_cmp);
            let place = share * (values.len() - 1) as f64;
            let (low, high) = (values[place.floor() as usize], values[place.ceil() as usize]);
            let expected = low + place.fract() * (high - low);
            proptest::prop_assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0));
        }
    }
}
