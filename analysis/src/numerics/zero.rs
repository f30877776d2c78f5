//! Closing in on a sign change.

/// Rounds of regula falsi; what has not closed in by then is halved.
const FALSI: u32 = 60;
/// Halvings that bring any interval of doubles down to two neighbours, but for ends at far apart powers of ten.
const HALVINGS: u32 = 80;
/// Of the root's size, or of the first interval where that is larger.
const NEAR: f64 = 1e-13;

/// A root between `a` and `b` (where `f` has opposite signs), by regula falsi with the Illinois change (Dahlquist and
/// Björck, "Numerical Methods", 6.4.3), to 1e-13 of its size or of the interval's; by halving where that takes too long.
/// None where the signs are alike, or `f` is no number where it is asked.
pub fn zero(f: impl Fn(f64) -> f64, mut a: f64, mut b: f64) -> Option<f64> {
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || fa.signum() == fb.signum() {
        return None;
    }
    let width = (b - a).abs();
    for round in 0..FALSI + HALVINGS {
        let guess = match round < FALSI {
            true => b - fb * (b - a) / (fb - fa),
            false => 0.5 * (a + b),
        };
        let near = NEAR * guess.abs().max(width);
        // A step this small may have closed in, or be one of a curve that is all but flat here: a look beyond tells.
        let is_small = (guess - b).abs() <= near;
        let c = match is_small {
            true => b + near.min((a - b).abs()).copysign(a - b),
            false => guess,
        };
        let fc = f(c);
        if fc.is_nan() {
            return None;
        }
        if is_small && fc.signum() != fb.signum() {
            return Some(guess);
        }
        if fc == 0.0 || (b - a).abs() <= near {
            return Some(c);
        }
        if fc.signum() != fb.signum() {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        (b, fb) = (c, fc);
    }
    Some(b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Roots that are known, of curves from straight to as steep as a power of fifty, and of any size.
        #[test]
        fn a_known_root_is_found(
            root in -3.0..3.0f64,
            below in 1e-3..2.0f64,
            above in 1e-3..2.0f64,
            power in prop::sample::select(vec![1, 3, 9, 49]),
            size in -290.0..200.0f64,
        ) {
            let f = |x: f64| 10f64.powf(size) * (x - root).powi(power) * (1.0 + x * x);
            let found = zero(f, root - below, root + above);
            // Beyond the smallest double a curve, or its power alone, is zero all about its root.
            let flat = (10f64.powf(-320.0 - size.min(0.0))).powf(1.0 / f64::from(power));
            let near = 4e-13 * root.abs().max(below + above) + flat;
            prop_assert!(found.is_some_and(|x| (x - root).abs() <= near), "{found:?}");
        }
    }

    #[test]
    fn what_has_no_root_has_none() {
        assert_eq!(zero(|x| x * x + 1.0, -1.0, 2.0), None);
        assert_eq!(
            zero(|x| if x > 1.0 { f64::NAN } else { x }, -1.0, 2.0),
            None
        );
        assert_eq!(
            zero(
                |x| if x == 2.0 {
                    1.0
                } else if x == -1.0 {
                    -1.0
                } else {
                    f64::NAN
                },
                -1.0,
                2.0
            ),
            None
        );
        assert_eq!(zero(|x| x, 0.0, 2.0), Some(0.0));
        // A logarithm of a frequency of 1 Hz.
        let found = zero(|x: f64| x.exp() - 1.0, -0.7, 0.3).expect("a root");
        assert!(found.abs() < 1e-13);
    }
}
