//! Polynomials by their coefficients, lowest power first: values and products.

use num_complex::Complex64;

/// Σ `c[k]`·p^k
pub(super) fn horner(coefficients: &[f64], p: Complex64) -> Complex64 {
    coefficients
        .iter()
        .rev()
        .fold(Complex64::ZERO, |sum, &c| sum * p + c)
}

/// The derivative of [`horner`] with respect to p.
pub(super) fn slope(coefficients: &[f64], p: Complex64) -> Complex64 {
    let mut sum = Complex64::ZERO;
    for (k, &c) in coefficients.iter().enumerate().skip(1).rev() {
        sum = sum * p + c * k as f64;
    }
    sum
}

/// Σ `c[k]`·(jx)^k, in real arithmetic: even powers make the real part, odd ones the imaginary part.
pub(super) fn on_axis(coefficients: &[f64], x: f64) -> Complex64 {
    let u = -x * x;
    let (mut even, mut odd) = (0.0, 0.0);
    for pair in coefficients.chunks(2).rev() {
        even = even * u + pair[0];
        odd = odd * u + pair.get(1).copied().unwrap_or(0.0);
    }
    Complex64::new(even, x * odd)
}

/// The product of two polynomials; no coefficients stand for zero.
pub fn times(a: &[f64], b: &[f64]) -> Vec<f64> {
    if a.is_empty() || b.is_empty() {
        return Vec::new();
    }
    let mut product = vec![0.0; a.len() + b.len() - 1];
    for (i, a) in a.iter().enumerate() {
        for (k, b) in b.iter().enumerate() {
            product[i + k] += a * b;
        }
    }
    product
}
