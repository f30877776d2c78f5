//! The place of a top, by thirds.

/// So often a third is left out: a ratio of 1e10, more than a top's place has digits.
const TIMES: u32 = 60;

/// Where a function with one top between `low` and `high` is largest: the third beyond the lower of two places is left
/// out again and again.
pub fn top(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..TIMES {
        let third = (high - low) / 3.0;
        if f(low + third) < f(high - third) {
            low += third;
        } else {
            high -= third;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_top_is_found() {
        let place = super::top(|x| -(x - 3.0).powi(2), 1.0, 10.0);
        assert!((place - 3.0).abs() < 1e-7);
    }
}
