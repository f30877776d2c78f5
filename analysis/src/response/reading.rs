//! Figures read off a magnitude curve: the deepest point; where a level is crossed stands in `crossing.rs`.
//!
//! On the frequency axis |N|² and |D|² are polynomials in `u = x²` (x the scaled frequency) with
//! derivatives that keep their digits even at the bottom of a full null, because they are put
//! together from the even and odd parts of N and D: `|N|² = E² + u·O²`.

use std::f64::consts::TAU;

use super::Transfer;
use crate::numerics::zero;

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

/// |Σ c[k]·(jx)^k|² alone.
fn size(coefficients: &[f64], u: f64) -> f64 {
    let (mut even, mut odd) = (0.0, 0.0);
    for pair in coefficients.chunks(2).rev() {
        even = pair[0] - even * u;
        odd = pair.get(1).copied().unwrap_or(0.0) - odd * u;
    }
    even * even + u * odd * odd
}

/// A curve seen as |H|² over u.
pub(super) struct Power<'a> {
    pub(super) transfer: &'a Transfer,
}

impl Power<'_> {
    pub(super) fn u(&self, frequency: f64) -> f64 {
        let x = TAU * frequency / self.transfer.omega;
        x * x
    }

    pub(super) fn frequency(&self, u: f64) -> f64 {
        u.sqrt() * self.transfer.omega / TAU
    }

    fn squares(&self, u: f64) -> Squares {
        let (n, dn) = square(&self.transfer.num, u);
        let (d, dd) = square(&self.transfer.den, u);
        Squares { n, dn, d, dd }
    }

    fn at(&self, u: f64) -> f64 {
        size(&self.transfer.num, u) / size(&self.transfer.den, u)
    }

    /// Zero where |H|² has an extremum; negative while it falls.
    fn bend(&self, u: f64) -> f64 {
        let at = self.squares(u);
        at.dn * at.d - at.n * at.dd
    }

    /// Where |H|² is least within a ratio of a place, by the secant method from there; none where that does not
    /// settle soon, or on what is no least.
    fn turn_near(&self, near: f64, reach: f64) -> Option<f64> {
        let mut bend = self.bend(near);
        let mut u = near;
        // Downhill, so far that the slope keeps its digits.
        let mut step = -bend.signum() * 1e-4 * near;
        for _ in 0..10 {
            u += step;
            if !(u < near * reach && u * reach > near) {
                return None;
            }
            let next = self.bend(u);
            let slope = (next - bend) / step;
            if slope.is_nan() || slope <= 0.0 {
                return None;
            }
            (step, bend) = (-next / slope, next);
            if step.abs() <= 1e-11 * u {
                return Some(u + step);
            }
        }
        None
    }

    /// |N|² − power·|D|², positive where |H|² is above `power`.
    pub(super) fn excess(&self, u: f64, power: f64) -> f64 {
        size(&self.transfer.num, u) - power * size(&self.transfer.den, u)
    }

    /// [`Power::excess`] and its derivative.
    pub(super) fn excess_and_slope(&self, u: f64, power: f64) -> (f64, f64) {
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
    let u = curve.turn_near(curve.u(near), reach * reach).or_else(|| {
        let (low, high) = (curve.u(near / reach), curve.u(near * reach));
        let turns = curve.bend(low) < 0.0 && curve.bend(high) > 0.0;
        turns.then(|| zero(|u| curve.bend(u), low, high))?
    });
    u.map(|u| curve.frequency(u))
}
