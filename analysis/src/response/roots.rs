//! Roots of a real polynomial.

use nalgebra::DMatrix;
use num_complex::Complex64;

use super::factor::{Factor, factor_near};
use super::polynomial::{horner, slope};

/// Quadratic factors are looked for up to this degree: of a circuit's polynomials they are found in a fraction of
/// the time of eigenvalues.
const FEW: usize = 10;
/// Sums and products of roots are those of the coefficients within this share; if not, one was found twice.
const AGREED: f64 = 1e-7;

/// Roots of `Σ c[k]·p^k`: from quadratic factors, or where these cannot be had as eigenvalues of the companion
/// matrix, and polished by Newton's method.
///
/// Vanishing coefficients at the high end (an ideal op amp's) are no roots.
pub(super) fn roots(coefficients: &[f64]) -> Vec<Complex64> {
    let largest = coefficients.iter().fold(0.0f64, |m, c| m.max(c.abs()));
    let Some(degree) = coefficients
        .iter()
        .rposition(|c| c.abs() > 1e-300 * largest)
    else {
        return Vec::new();
    };
    let origin = coefficients.iter().position(|&c| c != 0.0).unwrap_or(0);
    let c = &coefficients[origin..=degree];
    let mut found = vec![Complex64::ZERO; origin];
    if c.len() > 1 {
        found.extend(by_factors(c).unwrap_or_else(|| by_eigenvalues(c)));
    }
    found
}

/// By one quadratic factor after another, smallest roots first, so that what is divided out spoils the rest least
/// (Wilkinson, "Rounding Errors in Algebraic Processes", 1963); none where that does not lead to all roots.
fn by_factors(c: &[f64]) -> Option<Vec<Complex64>> {
    let degree = c.len() - 1;
    if degree > FEW {
        return None;
    }
    let mut rest = c.to_vec();
    let mut found = Vec::with_capacity(degree);
    while rest.len() > 2 {
        // What the lowest coefficients alone say.
        let start = Factor {
            u: rest[1] / rest[2],
            v: rest[0] / rest[2],
        };
        let factor = match rest.len() {
            3 => start,
            _ => factor_near(&rest, start)?,
        };
        found.extend(factor.roots());
        divide(&mut rest, factor);
    }
    if rest.len() == 2 {
        found.push(Complex64::from(-rest[0] / rest[1]));
    }
    found.iter_mut().for_each(|p| *p = polish(c, *p));
    are_all(c, &found).then_some(found)
}

/// Takes a factor out; what remains is dropped.
fn divide(c: &mut Vec<f64>, factor: Factor) {
    let (mut b1, mut b2) = (0.0, 0.0);
    for c in c.iter_mut().rev() {
        let b0 = *c - factor.u * b1 - factor.v * b2;
        (b2, b1) = (b1, b0);
        *c = b0;
    }
    c.drain(..2);
}

/// Whether these are the roots and none stands for another (Vieta's formulas for their sum, the sum of their
/// inverses and their product).
fn are_all(c: &[f64], roots: &[Complex64]) -> bool {
    let n = c.len() - 1;
    let agrees = |all: &dyn Fn(Complex64) -> Complex64, wanted: f64| {
        let sum: Complex64 = roots.iter().map(|&p| all(p)).sum();
        let size: f64 = roots.iter().map(|&p| all(p).l1_norm()).sum();
        (sum - wanted).l1_norm() <= AGREED * size
    };
    let product: f64 = roots.iter().map(|p| p.norm().ln()).sum();
    agrees(&|p| p, -c[n - 1] / c[n])
        && agrees(&|p| p.inv(), -c[1] / c[0])
        && (product - (c[0] / c[n]).abs().ln()).abs() <= AGREED
}

fn by_eigenvalues(c: &[f64]) -> Vec<Complex64> {
    let size = c.len() - 1;
    // p = scale·q brings the first and the last coefficient to the same size.
    let scale = (c[0] / c[size]).abs().powf(1.0 / size as f64);
    let companion = DMatrix::from_fn(size, size, |row, column| {
        if column + 1 == size {
            -c[row] / c[size] * scale.powi(row as i32 - size as i32)
        } else if row == column + 1 {
            1.0
        } else {
            0.0
        }
    });
    let found = companion.complex_eigenvalues();
    let scaled = found.iter().map(|q| Complex64::new(q.re, q.im) * scale);
    scaled.map(|p| polish(c, p)).collect()
}

/// A few Newton steps, taken only while they make the polynomial smaller.
fn polish(coefficients: &[f64], mut p: Complex64) -> Complex64 {
    let mut value = horner(coefficients, p).l1_norm();
    for _ in 0..4 {
        let next = p - horner(coefficients, p) / slope(coefficients, p);
        let smaller = horner(coefficients, next).l1_norm();
        if smaller.is_nan() || smaller >= value {
            break;
        }
        (p, value) = (next, smaller);
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::response::times;

    /// Coefficients from roots, a complex one with its conjugate.
    fn product(roots: &[Complex64]) -> Vec<f64> {
        let mut c = vec![1.0];
        for root in roots {
            let factor = match root.im == 0.0 {
                true => vec![-root.re, 1.0],
                false => vec![root.norm_sqr(), -2.0 * root.re, 1.0],
            };
            c = times(&c, &factor);
        }
        c
    }

    fn is_among(root: Complex64, found: &[Complex64]) -> bool {
        found.iter().any(|p| (p - root).norm() < 1e-6 * root.norm())
    }

    proptest::proptest! {
        /// Roots a decade apart on average, pairs and single ones, both halves of the plane.
        #[test]
        fn roots_that_made_a_polynomial_are_found(
            all in proptest::collection::vec((0.3f64..3.0, -1.5f64..3.1, proptest::bool::ANY), 1..5)
        ) {
            let root = |(at, &(size, angle, is_pair)): (usize, &(f64, f64, bool))| {
                let size = size * 10f64.powi(at as i32);
                match is_pair && angle.sin().abs() > 0.01 {
                    true => Complex64::from_polar(size, angle),
                    false => Complex64::from(-size),
                }
            };
            let made: Vec<Complex64> = all.iter().enumerate().map(root).collect();
            let c = product(&made);
            let found = roots(&c);
            proptest::prop_assert_eq!(found.len(), c.len() - 1);
            for root in made {
                proptest::prop_assert!(is_among(root, &found) && is_among(root.conj(), &found), "{:?}", found);
            }
        }

        /// Both ways lead to the same roots, wherever the first leads to any.
        #[test]
        fn factors_and_eigenvalues_agree(c in proptest::collection::vec(-3.0f64..3.0, 3..9)) {
            if let Some(found) = by_factors(&c) {
                for root in by_eigenvalues(&c) {
                    let residue = horner(&c, root).norm() / (slope(&c, root).norm() * root.norm());
                    let well = residue < 1e-12 && slope(&c, root).norm() > 1e-3;
                    proptest::prop_assert!(!well || is_among(root, &found), "{} {:?}", root, found);
                }
            }
        }
    }
}
