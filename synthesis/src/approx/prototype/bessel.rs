//! Bessel: poles at the roots of the reverse Bessel polynomial, scaled to 3.01 dB at 1 rad/s.

use std::f64::consts::LN_10;

use num_complex::Complex64;

use super::super::roots::{Roots, push_pair, unity_at_dc};
use crate::numerics::Bracket;
use crate::numerics::put_in_order;

/// Van Valkenburg, "Analog Filter Design", ch. 10; Thomson, Proc. IEE 96 (1949).
pub fn roots(order: usize) -> Roots {
    let delay_one = polynomial_roots(order);
    let edge = frequency_where(&delay_one, 2f64.ln());
    let poles: Vec<_> = delay_one.iter().map(|p| p / edge).collect();
    Roots {
        zeros: vec![],
        gain: unity_at_dc(&[], &poles),
        poles,
    }
}

/// Where the prototype of this order attenuates by `db`, rad/s. The curve falls all the way, so there is
/// one such place.
pub fn frequency_of_attenuation(order: usize, db: f64) -> f64 {
    frequency_where(&roots(order).poles, db * LN_10 / 10.0)
}

/// Where `ln |H(0)/H(jω)|²` comes to `wanted`, by halving `ln ω`.
fn frequency_where(poles: &[Complex64], wanted: f64) -> f64 {
    let fall = |omega: f64| -> f64 {
        poles
            .iter()
            // |jω − p|²/|p|² − 1, which is small where the wanted attenuation is.
            .map(|p| (omega * (omega - 2.0 * p.im) / p.norm_sqr()).ln_1p())
            .sum()
    };
    let mut less = Bracket {
        holds: 1e-9,
        fails: 1.0,
    };
    while fall(less.fails) < wanted {
        less.fails *= 2.0;
    }
    for _ in 0..80 {
        let middle = less.log_middle();
        less.learn(middle, fall(middle) < wanted);
    }
    less.log_middle()
}

/// Coefficients `(2n − k)!/(2^(n−k)·k!·(n − k)!)` of `s^k`; whole numbers below 2⁵³ up to order 10.
fn coefficients(order: usize) -> Vec<f64> {
    let mut c = vec![1.0; order + 1];
    for k in (0..order).rev() {
        // Each from the one above; the division leaves no remainder.
        c[k] = c[k + 1] * ((2 * order - k) * (k + 1)) as f64 / (2 * (order - k)) as f64;
    }
    c
}

/// All roots at once by Aberth's iteration (Math. Comp. 27, 1973), then made exactly symmetric.
fn polynomial_roots(order: usize) -> Vec<Complex64> {
    let c = coefficients(order);
    let newton = |s: Complex64| {
        let (mut value, mut slope) = (Complex64::ZERO, Complex64::ZERO);
        for &coefficient in c.iter().rev() {
            slope = slope * s + value;
            value = value * s + coefficient;
        }
        value / slope
    };
    // Anywhere on the left with no symmetry of its own; the roots' geometric mean gives the size.
    let size = c[0].powf(1.0 / order as f64);
    let mut found: Vec<_> = (0..order)
        .map(|k| Complex64::from_polar(size, 1.7 + 2.9 * k as f64 / order as f64))
        .collect();
    for _ in 0..60 {
        for k in 0..order {
            let step = newton(found[k]);
            let crowd: Complex64 = (0..order)
                .filter(|&j| j != k)
                .map(|j| (found[k] - found[j]).inv())
                .sum();
            found[k] -= step / (1.0 - step * crowd);
        }
    }
    put_in_order(&mut found, |a, b| b.im.total_cmp(&a.im));
    let mut poles = Vec::with_capacity(order);
    for root in &found[..order / 2] {
        push_pair(&mut poles, *root);
    }
    if order % 2 == 1 {
        poles.push(Complex64::new(found[order / 2].re, 0.0));
    }
    poles
}

#[cfg(test)]
mod tests {
    use std::f64::consts::SQRT_2;

    use super::*;

    #[test]
    fn coefficients_of_order_three() {
        assert_eq!(coefficients(3), [15.0, 15.0, 6.0, 1.0]);
    }

    #[test]
    fn quality_of_order_two() {
        let pole = roots(2).poles[0];
        assert!((pole.norm() / (-2.0 * pole.re) - 1.0 / 3f64.sqrt()).abs() < 1e-14);
    }

    #[test]
    fn at_one_the_power_is_half() {
        for order in 1..=10 {
            let h = roots(order).at_s(Complex64::I).norm();
            assert!((h * SQRT_2 - 1.0).abs() < 1e-13, "order {order}: {h}");
        }
    }
}
