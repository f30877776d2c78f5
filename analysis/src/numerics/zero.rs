//! Closing in on a sign change.

/// A root between `a` and `b` (where `f` has opposite signs), by regula falsi with the Illinois
/// change (Dahlquist and Björck, "Numerical Methods", 6.4.3), to 1e-13 of its size.
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
    for _ in 0..60 {
        let c = b - fb * (b - a) / (fb - fa);
        let fc = f(c);
        if fc == 0.0 || (c - b).abs() <= 1e-13 * c.abs() || (b - a).abs() <= 1e-15 * c.abs() {
            return Some(c);
        }
        if fc * fb < 0.0 {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        (b, fb) = (c, fc);
    }
    Some(b)
}
