//! A number from a sample, with its standard error.

/// An estimate.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate {
    pub value: f64,
    /// One standard error.
    pub error: f64,
}

impl Estimate {
    /// `whole` is the estimate from all boards, `without` the same with each block of boards left out in turn:
    /// the grouped jackknife (Miller, "The jackknife – a review", Biometrika 61, 1974; from memory).
    pub fn jackknife(whole: f64, without: &[f64]) -> Estimate {
        let blocks = without.len() as f64;
        let mean = without.iter().sum::<f64>() / blocks;
        let squares: f64 = without.iter().map(|v| (v - mean).powi(2)).sum();
        Estimate {
            value: whole,
            error: ((blocks - 1.0) / blocks * squares).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Estimate;

    /// Of a mean, the jackknife gives s/√n exactly.
    #[test]
    fn of_a_mean() {
        let values = [1.0, 4.0, 2.0, 7.0, 6.0];
        let sum: f64 = values.iter().sum();
        let without = values.map(|v| (sum - v) / 4.0);
        let squares: f64 = values.iter().map(|v| (v - 4.0).powi(2)).sum();
        let found = Estimate::jackknife(4.0, &without);
        assert!((found.error - (squares / 4.0 / 5.0).sqrt()).abs() < 1e-12);
    }
}
