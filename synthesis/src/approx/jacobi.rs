//! Elliptic integrals and Jacobi's functions of real arguments.

use std::f64::consts::{FRAC_PI_2, PI};

/// A modulus with its complement, `k² + k'² = 1`. Both are kept, because neither can be had from the
/// other where it is small.
#[derive(Clone, Copy, Debug)]
pub struct Modulus {
    /// k, 0 to 1.
    pub k: f64,
    /// k', 0 to 1.
    pub k_comp: f64,
}

impl Modulus {
    /// The modulus with this `K'/K`, by theta series of the smaller of its two nomes (Abramowitz &
    /// Stegun, 16.38).
    pub fn with_ratio(ratio: f64) -> Modulus {
        if ratio < 1.0 {
            return Modulus::with_ratio(1.0 / ratio).complement();
        }
        // q ≤ e^(−π): the terms left out are below 10⁻¹⁶.
        let q = (-PI * ratio).exp();
        let two = 2.0 * q.powf(0.25) * (1.0 + q.powi(2) + q.powi(6));
        let three = 1.0 + 2.0 * (q + q.powi(4) + q.powi(9));
        let four = 1.0 - 2.0 * (q - q.powi(4) + q.powi(9));
        Modulus {
            k: (two / three).powi(2),
            k_comp: (four / three).powi(2),
        }
    }

    /// k and k' exchanged.
    pub fn complement(self) -> Modulus {
        Modulus {
            k: self.k_comp,
            k_comp: self.k,
        }
    }

    /// The complete integral K (Abramowitz & Stegun, 17.6).
    pub fn quarter_period(self) -> f64 {
        FRAC_PI_2 / mean(1.0, self.k_comp)
    }

    /// `K'/K`.
    pub fn ratio(self) -> f64 {
        mean(1.0, self.k_comp) / mean(1.0, self.k)
    }

    /// sn, cn and dn of `share·K`, share from 0 to 1 (Abramowitz & Stegun, 16.4 and 16.8).
    pub fn sn_cn_dn(self, share: f64) -> (f64, f64, f64) {
        if share > 0.5 {
            // From the other end: the angle below is near a right one here, and cn its small cosine.
            let (s, c, d) = self.sn_cn_dn((1.0 - share).max(0.0));
            return (c / d, self.k_comp * s / d, self.k_comp / d);
        }
        let (mut a, mut b) = (1.0, self.k_comp);
        let mut shrink = Vec::new();
        // The difference of the means at least halves, and soon squares.
        while (a - b).abs() > 1e-16 * a && shrink.len() < 64 {
            let c = (a - b) / 2.0;
            (a, b) = ((a + b) / 2.0, (a * b).sqrt());
            shrink.push(c / a);
        }
        // a·K is a right angle once the means have met.
        let mut phase = 2f64.powi(shrink.len() as i32) * share * FRAC_PI_2;
        for c in shrink.iter().rev() {
            phase = (phase + (c * phase.sin()).asin()) / 2.0;
        }
        let (s, c) = phase.sin_cos();
        (s, c, self.k_comp.hypot(self.k * c))
    }
}

/// The arithmetic-geometric mean of two numbers above 0.
fn mean(mut a: f64, mut b: f64) -> f64 {
    for _ in 0..64 {
        if (a - b).abs() <= 1e-16 * a {
            break;
        }
        (a, b) = ((a + b) / 2.0, (a * b).sqrt());
    }
    a
}

/// Carlson's symmetric integral `R_F(x, y, z)` by duplication (Carlson, Numer. Algorithms 10, 1995; DLMF
/// 19.36).
pub fn carlson_rf(mut x: f64, mut y: f64, mut z: f64) -> f64 {
    for _ in 0..64 {
        let average = (x + y + z) / 3.0;
        let (dx, dy) = (1.0 - x / average, 1.0 - y / average);
        let dz = -dx - dy;
        if dx.abs().max(dy.abs()).max(dz.abs()) < 1e-3 {
            let (e2, e3) = (dx * dy - dz * dz, dx * dy * dz);
            return (1.0 - e2 / 10.0 + e3 / 14.0 + e2 * e2 / 24.0 - 3.0 * e2 * e3 / 44.0)
                / average.sqrt();
        }
        let (a, b, c) = (x.sqrt(), y.sqrt(), z.sqrt());
        let shift = a * b + b * c + c * a;
        (x, y, z) = ((x + shift) / 4.0, (y + shift) / 4.0, (z + shift) / 4.0);
    }
    f64::NAN
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lemniscatic_case() {
        let even = Modulus::with_ratio(1.0);
        assert!((even.k * even.k - 0.5).abs() < 1e-15);
        // K(1/√2) = Γ(1/4)²/(4√π).
        assert!((even.quarter_period() - 1.8540746773013719).abs() < 1e-15);
        assert!((carlson_rf(0.0, 0.5, 1.0) - 1.8540746773013719).abs() < 1e-14);
    }

    #[test]
    fn half_way_up() {
        // sn(K/2) = 1/√(1 + k').
        for ratio in [0.1, 0.5, 1.0, 3.0] {
            let modulus = Modulus::with_ratio(ratio);
            let (s, _, d) = modulus.sn_cn_dn(0.5);
            assert!((s * (1.0 + modulus.k_comp).sqrt() - 1.0).abs() < 1e-14);
            assert!((d / modulus.k_comp.sqrt() - 1.0).abs() < 1e-11);
        }
    }
}
