//! How finite elements are shared out among the segments of a shaft.

/// So many elements shared out by the weights, one to each at least.
pub(super) fn shared(weights: &[f64], elements: usize) -> Vec<usize> {
    let total: f64 = weights.iter().sum();
    let share = |weight: &f64| (elements as f64 * weight / total).ceil() as usize;
    weights
        .iter()
        .map(|weight| share(weight).clamp(1, elements))
        .collect()
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_segment_has_one() {
        assert_eq!(super::shared(&[1.0, 1e-9, 2.0], 9), [3, 1, 6]);
    }
}
