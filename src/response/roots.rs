//! Roots of a real polynomial.

use nalgebra::DMatrix;
use num_complex::Complex64;

use super::transfer::{horner, slope};

/// Roots of `Σ c[k]·p^k`, as eigenvalues of the companion matrix, polished by Newton's method.
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
    let monic = &coefficients[origin..=degree];
    let size = degree - origin;
    let mut found = vec![Complex64::ZERO; origin];
    if size == 0 {
        return found;
    }
    // p = scale·q brings the first and the last coefficient to the same size.
    let scale = (monic[0] / monic[size]).abs().powf(1.0 / size as f64);
    let companion = DMatrix::from_fn(size, size, |row, column| {
        if column + 1 == size {
            -monic[row] / monic[size] * scale.powi(row as i32 - size as i32)
        } else if row == column + 1 {
            1.0
        } else {
            0.0
        }
    });
    found.extend(
        companion
            .complex_eigenvalues()
            .iter()
            .map(|q| polish(monic, Complex64::new(q.re, q.im) * scale)),
    );
    found
}

/// A few Newton steps, taken only while they make the polynomial smaller.
fn polish(coefficients: &[f64], mut p: Complex64) -> Complex64 {
    let mut value = horner(coefficients, p).norm();
    for _ in 0..4 {
        let next = p - horner(coefficients, p) / slope(coefficients, p);
        let smaller = horner(coefficients, next).norm();
        if smaller.is_nan() || smaller >= value {
            break;
        }
        (p, value) = (next, smaller);
    }
    p
}
