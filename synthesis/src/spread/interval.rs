//! How well a share is known from a sample.

use statrs::distribution::{Beta, ContinuousCDF};

/// The exact two-sided interval of Clopper and Pearson (Biometrika 26, 1934) for a proportion of
/// which `passed` of `boards` were seen; `level` is the confidence, such as 0.95.
///
/// It holds the true share at least as often as the level says, whatever the share.
///
/// ```
/// use synthesis::spread::clopper_pearson;
/// let (low, high) = clopper_pearson(0, 10, 0.95);
/// assert_eq!(low, 0.0);
/// assert!((high - (1.0 - 0.025f64.powf(0.1))).abs() < 1e-9); // closed form for none passed
/// ```
pub fn clopper_pearson(passed: u64, boards: u64, level: f64) -> (f64, f64) {
    let tail = (1.0 - level) / 2.0;
    let (k, n) = (passed as f64, boards as f64);
    let quantile =
        |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(f64::NAN, |beta| beta.inverse_cdf(p));
    let low = if passed == 0 {
        0.0
    } else {
        quantile(k, n - k + 1.0, tail)
    };
    let high = if passed >= boards {
        1.0
    } else {
        quantile(k + 1.0, n - k, 1.0 - tail)
    };
    (low, high)
}
