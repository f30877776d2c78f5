//! Chebyshev: the Butterworth circle drawn out to an ellipse.

use num_complex::Complex64;

use super::super::roots::{Roots, push_pair, unity_at_dc};
use super::{angles, excess};

/// Van Valkenburg, "Analog Filter Design", ch. 8.
pub fn roots(order: usize, ripple_db: f64) -> Roots {
    let epsilon = excess(ripple_db).sqrt();
    let a = epsilon.recip().asinh() / order as f64;
    let mut poles = Vec::with_capacity(order);
    for angle in angles(order) {
        let pole = Complex64::new(-a.sinh() * angle.cos(), a.cosh() * angle.sin());
        push_pair(&mut poles, pole);
    }
    if order % 2 == 1 {
        poles.push(Complex64::new(-a.sinh(), 0.0));
    }
    let mut gain = unity_at_dc(&[], &poles);
    if order.is_multiple_of(2) {
        gain /= 1f64.hypot(epsilon);
    }
    Roots {
        zeros: vec![],
        poles,
        gain,
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn one_decibel_order_two() {
        // s² + 1.0977 s + 1.1025 (the usual tables, from memory).
        let pole = super::roots(2, 1.0).poles[0];
        assert!((-2.0 * pole.re - 1.0977).abs() < 1e-4);
        assert!((pole.norm_sqr() - 1.1025).abs() < 1e-4);
    }
}
