//! Figures read off a magnitude curve: the deepest point, and where a level is crossed.
//!
//! On the frequency axis |N|² and |D|² are polynomials in `u = x²` (x the scaled frequency) with
//! derivatives that keep their digits even at the bottom of a full null, because they are put
//! together from the even and odd parts of N and D: `|N|² = E² + u·O²`.

use std::f64::consts::TAU;

use super::Transfer;

/// |N|², |D|² and their derivatives by u at one place.
struct Squares {
    n: f64,
    dn: f64,
    d: f64,
    dd: f64,
}

fn square(coefficients: &[f64], u: f64) -> (f64, f64) {
    let (mut even, mut odd, mut d_even, mut d_odd) = (0.0, 0.0, 0.0, 0.0);
    for pair in coefficients.chunks(2).rev() {
        d_even = -d_even * u - even;
        even = -even * u + pair[0];
        d_odd = -d_odd * u - odd;
        odd = -odd * u + pair.get(1).copied().unwrap_or(0.0);
    }
    (
        even * even + u * odd * odd,
        2.0 * (even * d_even + u * odd * d_odd) + odd * odd,
    )
}

/// A curve with the place where one reading is wanted.
pub struct Reading<'a> {
    transfer: &'a Transfer,
}

impl<'a> Reading<'a> {
    pub fn new(transfer: &'a Transfer) -> Reading<'a> {
        Reading { transfer }
    }

    fn u(&self, frequency: f64) -> f64 {
        let x = TAU * frequency / self.transfer.omega;
        x * x
    }

    fn squares(&self, u: f64) -> Squares {
        let (n, dn) = square(&self.transfer.num, u);
        let (d, dd) = square(&self.transfer.den, u);
        Squares { n, dn, d, dd }
    }

    /// |H|² at a frequency in Hz.
    pub fn power(&self, frequency: f64) -> f64 {
        let at = self.squares(self.u(frequency));
        at.n / at.d
    }

    /// Zero where |H|² has an extremum; negative while it falls.
    fn bend(&self, frequency: f64) -> f64 {
        let at = self.squares(self.u(frequency));
        at.dn * at.d - at.n * at.dd
    }

    /// Zero where |H|² is `power`; positive above.
    fn excess(&self, frequency: f64, power: f64) -> f64 {
        let at = self.squares(self.u(frequency));
        at.n / at.d - power
    }
}

/// The frequency (Hz) of the deepest point of |H| between two frequencies, or none when the curve
/// only rises or falls there.
///
/// Looks at `steps` + 1 places in equal ratios, then closes in on the lowest between its neighbours.
pub fn deepest(transfer: &Transfer, (low, high): (f64, f64), steps: usize) -> Option<f64> {
    let reading = Reading::new(transfer);
    let ratio = (high / low).powf(1.0 / steps as f64);
    let mut lowest = (0, f64::INFINITY);
    let mut f = low;
    for k in 0..=steps {
        let power = reading.power(f);
        if power < lowest.1 {
            lowest = (k, power);
        }
        f *= ratio;
    }
    if lowest.0 == 0 || lowest.0 == steps {
        return None;
    }
    let centre = low * ratio.powi(lowest.0 as i32);
    zero(|f| reading.bend(f), centre / ratio, centre * ratio)
}

/// The frequency (Hz) nearest to `from` where |H| comes up to `level` (a ratio), going down
/// (`direction` −1) or up (+1) in frequency from a place where |H| is lower.
///
/// `reach` is the first stride as ln of a ratio; strides double until the level is passed or
/// `limit` octaves are behind, when there is no crossing.
pub fn crossing(
    transfer: &Transfer,
    from: f64,
    level: f64,
    direction: f64,
    reach: f64,
    limit: f64,
) -> Option<f64> {
    let reading = Reading::new(transfer);
    let power = level * level;
    let (mut near, mut stride) = (0.0, reach);
    while near < limit * std::f64::consts::LN_2 {
        let far = near + stride;
        if reading.excess(from * (direction * far).exp(), power) >= 0.0 {
            let (a, b) = (
                from * (direction * near).exp(),
                from * (direction * far).exp(),
            );
            return zero(|f| reading.excess(f, power), a.min(b), a.max(b));
        }
        (near, stride) = (far, stride * 2.0);
    }
    None
}

/// A root between `a` and `b` (where `f` has opposite signs), by regula falsi with the Illinois
/// change (Dahlquist and Björck, "Numerical Methods", 6.4.3), to a few units in the last place.
fn zero(f: impl Fn(f64) -> f64, mut a: f64, mut b: f64) -> Option<f64> {
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if !(fa * fb < 0.0) {
        return None;
    }
    for _ in 0..60 {
        let c = b - fb * (b - a) / (fb - fa);
        let fc = f(c);
        if fc == 0.0 || (b - a).abs() <= 4.0 * f64::EPSILON * c.abs() {
            return Some(c);
        }
        if fc * fb < 0.0 {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        if (c - b).abs() <= 1e-14 * c.abs() {
            return Some(c);
        }
        (b, fb) = (c, fc);
    }
    Some(b)
}
