//! Following a root of a polynomial from a place near it: cheaper than all roots, and it stays the same
//! root from board to board.

use num_complex::Complex64;

/// A quadratic factor `p² + u·p + v`, two roots taken together: smooth in the coefficients even where
/// a real pair becomes a complex one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor {
    pub u: f64,
    pub v: f64,
}

impl Factor {
    /// The factor with this natural frequency and Q: a negative Q stands in the right half plane, an
    /// infinite one on the axis.
    pub fn of(frequency: f64, q: f64) -> Factor {
        Factor {
            u: frequency / q,
            v: frequency * frequency,
        }
    }

    /// √v, the roots' geometric mean; NaN for roots of different signs.
    pub fn frequency(self) -> f64 {
        self.v.sqrt()
    }

    /// √v/u
    pub fn q(self) -> f64 {
        self.v.sqrt() / self.u
    }

    /// Both roots.
    pub(super) fn roots(self) -> [Complex64; 2] {
        let half = 0.5 * self.u;
        let square = self.v - half * half;
        if square > 0.0 {
            let imaginary = square.sqrt();
            return [imaginary, -imaginary].map(|y| Complex64::new(-half, y));
        }
        let large = half + (-square).sqrt().copysign(half);
        [self.v / large, large].map(|w| Complex64::new(-w, 0.0))
    }

    /// The smaller and the larger corner when both roots are real, their mean twice when they are not.
    pub fn corners(self) -> (f64, f64) {
        let half = 0.5 * self.u;
        let square = half * half - self.v;
        if square < 0.0 {
            return (self.v.sqrt(), self.v.sqrt());
        }
        let large = half + square.sqrt().copysign(half);
        (self.v / large, large)
    }
}

/// The part of a polynomial that counts: without vanishing coefficients at the high end.
fn trimmed(coefficients: &[f64]) -> &[f64] {
    let degree = coefficients.iter().rposition(|&c| c != 0.0);
    &coefficients[..degree.map_or(0, |d| d + 1)]
}

/// How far a followed root may be from where it is looked for, as a ratio.
const REACH: f64 = 6.0;

/// The quadratic factor of `Σ c[k]·p^k` near another, by Bairstow's method (Press et al., "Numerical
/// Recipes", 9.5; L. Bairstow, 1920); none when it leads away or nowhere.
pub fn factor_near(coefficients: &[f64], near: Factor) -> Option<Factor> {
    let c = trimmed(coefficients);
    if c.len() < 3 {
        return None;
    }
    let Factor { mut u, mut v } = near;
    for _ in 0..30 {
        // b is the quotient with the remainder behind it, d its derivative by u.
        let (mut b1, mut b2, mut d1, mut d2, mut d3) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (k, &coefficient) in c.iter().enumerate().rev() {
            let b0 = coefficient - u * b1 - v * b2;
            (b2, b1) = (b1, b0);
            if k > 0 {
                let d0 = b0 - u * d1 - v * d2;
                (d3, d2, d1) = (d2, d1, d0);
            }
        }
        // b1 belongs to power 0 now and b2 to power 1; d1, d2, d3 to powers 1, 2, 3.
        let determinant = d2 * d2 - d1 * d3;
        let du = (b2 * d2 - b1 * d3) / determinant;
        let dv = (b1 * d2 - b2 * d1) / determinant;
        u += du;
        v += dv;
        if !(u.is_finite() && v.is_finite()) {
            return None;
        }
        let size = v.abs().sqrt();
        if du.abs() <= 1e-12 * size && dv.abs() <= 1e-12 * v.abs() {
            let ratio = (v / near.v).sqrt();
            let here = ratio > 1.0 / REACH && ratio < REACH;
            return here.then_some(Factor { u, v });
        }
    }
    None
}

/// The corner w of a factor `p + w` near another, by Newton's method.
pub fn corner_near(coefficients: &[f64], near: f64) -> Option<f64> {
    let c = trimmed(coefficients);
    if c.len() < 2 {
        return None;
    }
    let mut p = -near;
    for _ in 0..30 {
        let (mut value, mut slope) = (0.0, 0.0);
        for &coefficient in c.iter().rev() {
            slope = slope * p + value;
            value = value * p + coefficient;
        }
        let step = value / slope;
        p -= step;
        if !p.is_finite() {
            return None;
        }
        if step.abs() <= 1e-13 * p.abs() {
            let ratio = -p / near;
            return (ratio > 1.0 / REACH && ratio < REACH).then_some(-p);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (p + 3)(p² + p/2 + 4)
    const CUBIC: [f64; 4] = [12.0, 5.5, 3.5, 1.0];

    #[test]
    fn factors_of_a_cubic() {
        let near = Factor::of(1.7, 3.0);
        let found = factor_near(&CUBIC, near).expect("a factor");
        assert!((found.u - 0.5).abs() < 1e-12 && (found.v - 4.0).abs() < 1e-12);
        assert!((found.frequency() - 2.0).abs() < 1e-12 && (found.q() - 4.0).abs() < 1e-11);
        assert!((corner_near(&CUBIC, 2.0).expect("a root") - 3.0).abs() < 1e-12);
    }

    #[test]
    fn two_real_roots_are_a_factor_too() {
        // (p + 1)(p + 2)(p + 100)
        let c = [200.0, 302.0, 103.0, 1.0];
        let found = factor_near(&c, Factor { u: 2.5, v: 2.5 }).expect("a factor");
        let (low, high) = found.corners();
        assert!((low - 1.0).abs() < 1e-12 && (high - 2.0).abs() < 1e-12);
    }

    proptest::proptest! {
        #[test]
        fn any_pair_is_found_near_its_place(
            frequency in 0.2f64..5.0, q in 0.2f64..30.0, off in 0.9f64..1.1, far in 20.0f64..500.0
        ) {
            let Factor { u, v } = Factor::of(frequency, q);
            // times (p + far)
            let c = [v * far, v + u * far, u + far, 1.0];
            let found = factor_near(&c, Factor::of(frequency * off, q * off)).expect("a factor");
            proptest::prop_assert!((found.u / u - 1.0).abs() < 1e-8 && (found.v / v - 1.0).abs() < 1e-9);
        }
    }
}
