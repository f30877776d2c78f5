//! Inverse Chebyshev: flat pass band, zeros on the jω axis.

use num_complex::Complex64;

use super::super::roots::{Roots, push_pair, unity_at_dc};
use super::{angles, excess};

/// Van Valkenburg, "Analog Filter Design", ch. 13: one over the poles of a Chebyshev filter whose ε is
/// `1/√(10^(stop/10) − 1)`, and zeros at one over the extremes of its polynomial.
pub fn roots(order: usize, stop_db: f64) -> Roots {
    let a = excess(stop_db).sqrt().asinh() / order as f64;
    let (mut zeros, mut poles) = (Vec::new(), Vec::with_capacity(order));
    for angle in angles(order) {
        let mirrored = Complex64::new(-a.sinh() * angle.cos(), -a.cosh() * angle.sin());
        push_pair(&mut poles, mirrored.inv());
        push_pair(&mut zeros, Complex64::new(0.0, angle.sin().recip()));
    }
    if order % 2 == 1 {
        poles.push(Complex64::new(-a.sinh().recip(), 0.0));
    }
    let gain = unity_at_dc(&zeros, &poles);
    Roots { zeros, poles, gain }
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    #[test]
    fn the_stop_band_starts_at_one() {
        let h = super::roots(5, 40.0).at_s(Complex64::I).norm();
        assert!((h - 0.01).abs() < 1e-15);
    }
}
