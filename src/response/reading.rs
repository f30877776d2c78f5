//! Figures read off a magnitude curve: the deepest point, and where a level is crossed.
//!
//! On the frequency axis |N|² and |D|² are polynomials in `u = x²` (x the scaled frequency) with
//! derivatives that keep their digits even at the bottom of a full null, because they are put
//! together from the even and odd parts of N and D: `|N|² = E² + u·O²`.

use std::f64::consts::TAU;

use super::{Transfer, zero};

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

/// A curve seen as |H|² over u.
struct Power<'a> {
    transfer: &'a Transfer,
}

impl Power<'_> {
    fn u(&self, frequency: f64) -> f64 {
        let x = TAU * frequency / self.transfer.omega;
        x * x
    }

    fn frequency(&self, u: f64) -> f64 {
        u.sqrt() * self.transfer.omega / TAU
    }

    fn squares(&self, u: f64) -> Squares {
        let (n, dn) = square(&self.transfer.num, u);
        let (d, dd) = square(&self.transfer.den, u);
        Squares { n, dn, d, dd }
    }

    fn at(&self, u: f64) -> f64 {
        let at = self.squares(u);
        at.n / at.d
    }

    /// Zero where |H|² has an extremum; negative while it falls.
    fn bend(&self, u: f64) -> f64 {
        let at = self.squares(u);
        at.dn * at.d - at.n * at.dd
    }

    /// |N|² − power·|D|², positive where |H|² is above `power`, and its derivative.
    fn excess(&self, u: f64, power: f64) -> (f64, f64) {
        let at = self.squares(u);
        (at.n - power * at.d, at.dn - power * at.dd)
    }
}

/// The frequency (Hz) of the deepest point of |H| between two frequencies, or none when the curve
/// only rises or falls there.
///
/// Looks at `steps` + 1 places in equal ratios, then closes in on the lowest between its neighbours.
pub fn deepest(transfer: &Transfer, (low, high): (f64, f64), steps: usize) -> Option<f64> {
    let curve = Power { transfer };
    let ratio = (high / low).powf(2.0 / steps as f64);
    let first = curve.u(low);
    let mut lowest = (0, f64::INFINITY, first);
    let mut u = first;
    for k in 0..=steps {
        let power = curve.at(u);
        if power < lowest.1 {
            lowest = (k, power, u);
        }
        u *= ratio;
    }
    if lowest.0 == 0 || lowest.0 == steps {
        return None;
    }
    let u = zero(|u| curve.bend(u), lowest.2 / ratio, lowest.2 * ratio)?;
    Some(curve.frequency(u))
}

/// The extremum of |H| within `reach` (a ratio) of a frequency near which one is known to be
/// deepest, or none when the curve does not turn upwards there.
pub fn deepest_near(transfer: &Transfer, near: f64, reach: f64) -> Option<f64> {
    let curve = Power { transfer };
    let (low, high) = (curve.u(near / reach), curve.u(near * reach));
    let turns = curve.bend(low) < 0.0 && curve.bend(high) > 0.0;
    let u = turns.then(|| zero(|u| curve.bend(u), low, high))??;
    Some(curve.frequency(u))
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
    let curve = Power { transfer };
    let power = level * level;
    let start = curve.u(from);
    let (mut near, mut stride) = (0.0, reach);
    while near < limit * std::f64::consts::LN_2 {
        let far = near + stride;
        let end = start * (2.0 * direction * far).exp();
        if curve.excess(end, power).0 >= 0.0 {
            let begin = start * (2.0 * direction * near).exp();
            let u = zero(|u| curve.excess(u, power).0, begin.min(end), begin.max(end))?;
            return Some(curve.frequency(u));
        }
        (near, stride) = (far, stride * 2.0);
    }
    None
}

/// The frequency (Hz) close to `near` where |H| crosses `level`, by Newton's method on a
/// polynomial; none when it does not settle within a few steps and a tenth of a decade.
pub fn crossing_near(transfer: &Transfer, near: f64, level: f64) -> Option<f64> {
    let curve = Power { transfer };
    let power = level * level;
    let start = curve.u(near);
    let mut u = start;
    for _ in 0..8 {
        let (excess, slope) = curve.excess(u, power);
        let step = excess / slope;
        u -= step;
        if !(u > start * 0.63 && u < start * 1.58) {
            return None;
        }
        if step.abs() < 1e-11 * u {
            return Some(curve.frequency(u));
        }
    }
    None
}
