//! Butterworth: poles at equal angles on the unit circle.

use num_complex::Complex64;

use super::super::roots::{Roots, push_pair};
use super::angles;

/// Van Valkenburg, "Analog Filter Design", ch. 6.
pub fn roots(order: usize) -> Roots {
    let mut poles = Vec::with_capacity(order);
    for angle in angles(order) {
        push_pair(&mut poles, Complex64::new(-angle.cos(), angle.sin()));
    }
    if order % 2 == 1 {
        poles.push(Complex64::new(-1.0, 0.0));
    }
    Roots {
        zeros: vec![],
        poles,
        gain: 1.0,
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn order_two_has_a_quality_of_one_over_root_two() {
        let pole = super::roots(2).poles[0];
        assert!((-0.5 / pole.re - 0.5f64.sqrt()).abs() < 1e-15);
    }
}
