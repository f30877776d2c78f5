//! A root near a place: followed, and where that fails picked from all roots.

use super::factor::{Factor, corner_near, factor_near};
use super::roots::roots;

/// [`factor_near`], and where that fails the two roots of all that come nearest.
pub fn factor(coefficients: &[f64], near: Factor) -> Option<Factor> {
    factor_near(coefficients, near).or_else(|| {
        let all = roots(coefficients);
        let size = near.v.abs().sqrt();
        let mut best: Option<(f64, Factor)> = None;
        for (index, a) in all.iter().enumerate() {
            for b in &all[index + 1..] {
                let (sum, product) = (a + b, a * b);
                if sum.im.abs() > 1e-6 * size || product.im.abs() > 1e-6 * size * size {
                    continue;
                }
                let found = Factor {
                    u: -sum.re,
                    v: product.re,
                };
                let away = ((found.u - near.u) / size).abs() + (found.v / near.v).ln().abs();
                if away.is_finite() && best.is_none_or(|(least, _)| away < least) {
                    best = Some((away, found));
                }
            }
        }
        best.map(|(_, found)| found)
    })
}

/// [`corner_near`], and where that fails the real root of all that comes nearest.
pub fn corner(coefficients: &[f64], near: f64) -> Option<f64> {
    corner_near(coefficients, near).or_else(|| {
        roots(coefficients)
            .into_iter()
            .filter(|p| p.im.abs() < 1e-9 * p.norm() && -p.re / near > 0.0)
            .map(|p| -p.re)
            .min_by(|a, b| {
                let away = |w: &f64| (w / near).ln().abs();
                away(a).total_cmp(&away(b))
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (p + 3)(p² + p/2 + 4)
    const CUBIC: [f64; 4] = [12.0, 5.5, 3.5, 1.0];

    #[test]
    fn far_starts_fall_back_on_all_roots() {
        let found = factor(&CUBIC, Factor::of(40.0, 0.5)).expect("a factor");
        assert!(found.v > 3.9);
        assert!((corner(&CUBIC, 90.0).expect("a root") - 3.0).abs() < 1e-9);
    }
}
