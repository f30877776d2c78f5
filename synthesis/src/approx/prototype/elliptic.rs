//! Elliptic: equal ripple in both bands, by Jacobi's functions.

use num_complex::Complex64;

use super::super::jacobi::{Modulus, carlson_rf};
use super::super::roots::{Roots, push_pair, unity_at_dc};
use super::excess;

/// Antoniou, "Digital Signal Processing", ch. 10; the closed forms for poles and zeros as in Parks &
/// Burrus, "Digital Filter Design", section 7.2.8.
pub fn roots(order: usize, ripple_db: f64, stop_db: f64) -> Roots {
    let pass = excess(ripple_db);
    let levels = level_modulus(ripple_db, stop_db);
    // The degree equation: the modulus whose K'/K is this much smaller.
    let modulus = Modulus::with_ratio(levels.ratio() / order as f64);
    // sc(r; k1') = 1/ε, and r as a share of K1' is what the poles stand off the jω axis as a share of
    // K', by the degree equation again.
    let offset = carlson_rf(pass, pass + levels.k * levels.k, 1.0 + pass)
        / levels.complement().quarter_period();
    let (sv, cv, dv) = modulus.complement().sn_cn_dn(offset);
    let pole = |(s, c, d): (f64, f64, f64)| {
        // 1 − (d·sv)², as a sum that cancels nothing.
        let below = cv * cv + (modulus.k * s * sv).powi(2);
        Complex64::new(-c * d * sv * cv / below, s * dv / below)
    };
    let (mut zeros, mut poles) = (Vec::new(), Vec::with_capacity(order));
    for k in 0..order / 2 {
        let at = modulus.sn_cn_dn((2 * k + 1 + order % 2) as f64 / order as f64);
        push_pair(&mut poles, pole(at));
        push_pair(&mut zeros, Complex64::new(0.0, 1.0 / (modulus.k * at.0)));
    }
    if order % 2 == 1 {
        poles.push(Complex64::new(-sv / cv, 0.0));
    }
    let mut gain = unity_at_dc(&zeros, &poles);
    if order.is_multiple_of(2) {
        gain /= (1.0 + pass).sqrt();
    }
    Roots { zeros, poles, gain }
}

/// The modulus `k1 = ε_pass/ε_stop` of two levels, dB.
pub fn level_modulus(ripple_db: f64, stop_db: f64) -> Modulus {
    let (pass, stop) = (excess(ripple_db), excess(stop_db));
    Modulus {
        k: (pass / stop).sqrt(),
        // ε_stop² − ε_pass² without their difference.
        k_comp: ((1.0 + pass) * excess(stop_db - ripple_db) / stop).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    #[test]
    fn at_its_edge_the_ripple_is_reached() {
        for order in 1..=10 {
            let h = super::roots(order, 0.5, 60.0).at_s(Complex64::I).norm();
            assert!((20.0 * h.log10() + 0.5).abs() < 1e-12, "order {order}");
        }
    }
}
