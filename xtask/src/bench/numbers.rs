//! What is said of a list of times.

/// The smallest: how fast it is when nothing else is in the way.
pub fn least(times: &[f64]) -> f64 {
    times.iter().copied().fold(f64::INFINITY, f64::min)
}

/// The largest.
pub fn most(times: &[f64]) -> f64 {
    times.iter().copied().fold(0.0, f64::max)
}

/// Half of the times are at most this.
pub fn median(times: &[f64]) -> f64 {
    percentile(times, 50)
}

/// The smallest of the times that `percent` in a hundred do not exceed.
///
/// # Panics
///
/// If there are no times.
pub fn percentile(times: &[f64], percent: usize) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[(sorted.len() * percent).div_ceil(100).saturating_sub(1)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_of_twenty() {
        let times: Vec<f64> = (1..=20).rev().map(f64::from).collect();
        assert_eq!(median(&times), 10.0);
        assert_eq!(percentile(&times, 95), 19.0);
        assert_eq!(percentile(&times, 100), 20.0);
        assert_eq!((least(&times), most(&times)), (1.0, 20.0));
    }
}
