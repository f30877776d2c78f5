//! How fast the angle of a polynomial turns along the frequency axis.
//!
//! That is `Re(N'/N)`, a sum of `Re 1/(p − z)` over its roots. Close to a root `N'/N` is large and its real part
//! small beside it, so that its digits are lost; there the root is taken out by itself (deflation; Wilkinson,
//! "Rounding Errors in Algebraic Processes", ch. 2, from memory). A root on the axis adds nothing on either side
//! of it, and where it stands the limit of both sides is nothing too. Roots nearby are taken for simple ones.

use num_complex::Complex64;

use super::polynomial::{horner, slope};
use crate::numerics::modulus;

/// A polynomial that is smaller than this share of its terms' sizes is close to a root.
const CLOSE: f64 = 1e-3;
/// A root that is nearer to the axis than this share of its size stands on it but for rounding.
const ON_AXIS: f64 = 1e-12;

/// `d arg N(jx)/dx` of `N(p) = Σ c[k]·p^k`.
pub(super) fn turning(coefficients: &[f64], x: f64) -> f64 {
    let p = Complex64::new(0.0, x);
    let value = horner(coefficients, p);
    let ones = coefficients.iter().rev();
    let size = ones.fold(0.0, |sum, c| sum * x.abs() + c.abs());
    if modulus(value) > CLOSE * size {
        return (slope(coefficients, p) / value).re;
    }
    let coefficients = coefficients.iter().map(|&c| Complex64::from(c)).collect();
    turning_apart(coefficients, p)
}

/// The same, roots nearby taken out one after the other.
fn turning_apart(mut coefficients: Vec<Complex64>, p: Complex64) -> f64 {
    let mut sum = 0.0;
    while coefficients.last() == Some(&Complex64::ZERO) {
        coefficients.pop();
    }
    while coefficients.len() > 1 {
        let [value, slope, size] = seen(&coefficients, p);
        if modulus(value) > CLOSE * size.re {
            return sum + (slope / value).re;
        }
        let root = root_near(&coefficients, p);
        if root.re.abs() > ON_AXIS * modulus(root) {
            sum += (p - root).re / (p - root).norm_sqr();
        }
        coefficients = without(&coefficients, root);
    }
    sum
}

/// Value and derivative at a place, and the sum of the terms' sizes.
fn seen(coefficients: &[Complex64], p: Complex64) -> [Complex64; 3] {
    let (mut value, mut slope, mut size) = (Complex64::ZERO, Complex64::ZERO, 0.0);
    let far = modulus(p);
    for c in coefficients.iter().rev() {
        slope = slope * p + value;
        value = value * p + c;
        size = size * far + modulus(*c);
    }
    [value, slope, size.into()]
}

/// The root that Newton's method goes to.
fn root_near(coefficients: &[Complex64], from: Complex64) -> Complex64 {
    let mut root = from;
    for _ in 0..60 {
        let [value, slope, _] = seen(coefficients, root);
        let step = value / slope;
        if !step.is_finite() {
            break;
        }
        root -= step;
        if modulus(step) <= 1e-16 * modulus(root) {
            break;
        }
    }
    root
}

/// The polynomial divided by `p − root`.
fn without(coefficients: &[Complex64], root: Complex64) -> Vec<Complex64> {
    let mut quotient = vec![Complex64::ZERO; coefficients.len() - 1];
    let mut carried = Complex64::ZERO;
    for (k, c) in coefficients.iter().enumerate().skip(1).rev() {
        carried = carried * root + c;
        quotient[k - 1] = carried;
    }
    quotient
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::response::times;

    /// `Re 1/(jx − z)` in closed form.
    fn of_root(x: f64, z: Complex64) -> f64 {
        -z.re / (z.re * z.re + (x - z.im).powi(2))
    }

    proptest::proptest! {
        /// A pair on the axis or beside it, and another pair: against the sum over the roots, at
        /// the zero, a hair beside it and far off.
        #[test]
        fn as_the_sum_over_the_roots(
            at in 0.3f64..3.0, aside in proptest::sample::select(vec![0.0, 1e-7, 1e-4, -1e-5, 0.02]),
            other in 0.3f64..3.0, q in 0.2f64..20.0,
            off in proptest::sample::select(vec![0.0, 1e-15, 1e-12, 1e-9, -1e-7, 1e-5, 1e-3, 0.4])
        ) {
            let pair = |frequency: f64, u: f64| [frequency * frequency, u, 1.0];
            let roots = |frequency: f64, u: f64| {
                let half = Complex64::from(0.25 * u * u - frequency * frequency).sqrt();
                [half - 0.5 * u, -half - 0.5 * u]
            };
            let u = 2.0 * aside * at;
            let polynomial = times(&pair(at, u), &pair(other, other / q));
            let x = at * (1.0 + off);
            let sum = |of: [Complex64; 2]| of.iter().map(|z| of_root(x, *z)).sum::<f64>();
            let own = if aside == 0.0 { 0.0 } else { sum(roots(at, u)) };
            let expected = own + sum(roots(other, other / q));
            let found = turning(&polynomial, x);
            let room = 1e-6 * (1.0 + own.abs()) + 1e-4 * expected.abs();
            proptest::prop_assert!((found - expected).abs() < room, "{found} {expected}");
        }
    }
}
