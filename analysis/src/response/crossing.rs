//! Where a magnitude curve first crosses a level.
//!
//! |H|² less the level's is a polynomial in `u = x²` (x the scaled frequency) over one that is positive, so that
//! the curve crosses where that polynomial has a root. Descartes' rule of signs on a stretch (Collins and Akritas,
//! "Polynomial Real Root Isolation Using Descartes' Rule of Signs", 1976) tells where none can be and where there
//! is exactly one: no crossing is stepped over, however narrow the curve is there.

use smallvec::{SmallVec, smallvec};

use super::Transfer;
use super::reading::Power;
use crate::numerics::zero;

/// Stretches are halved, by their ratio, until they are as narrow as this; the curve touches the level there.
const NARROWEST: f64 = 1e-12;
/// A crossing that is known is looked for again within this ratio.
const NEAR: f64 = 1.26;

/// Which way from a place on a curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    Down,
    Up,
}

/// The frequency (Hz) nearest to `from` (Hz, may be 0) on one side of it where |H| crosses `level` (a ratio); none
/// when it never does. `near` is where a similar curve has it, which makes the search shorter.
pub fn first_crossing(
    transfer: &Transfer,
    from: f64,
    level: f64,
    way: Way,
    near: Option<f64>,
) -> Option<f64> {
    Crossings::new(transfer, level).first(from, way, near)
}

/// Where a magnitude curve crosses a level: what is the same for both ways.
pub struct Crossings<'a> {
    curve: Power<'a>,
    /// The level's square.
    power: f64,
    above: Above,
}

impl Crossings<'_> {
    /// `level` is a ratio.
    pub fn new(transfer: &Transfer, level: f64) -> Crossings<'_> {
        Crossings {
            curve: Power { transfer },
            power: level * level,
            above: Above::new(transfer, level * level),
        }
    }

    /// As [`first_crossing`] tells it.
    pub fn first(&self, from: f64, way: Way, near: Option<f64>) -> Option<f64> {
        let (curve, above) = (&self.curve, &self.above);
        let start = curve.u(from);
        if let Some(near) = near.filter(|f| f.is_finite())
            && let Some(u) = self.newton(curve.u(near))
        {
            // It is the first one if there is none before it, and one as far as just behind it.
            let before = match way {
                Way::Up => (start, u * (1.0 - 1e-9)),
                Way::Down => (u * (1.0 + 1e-9), start),
            };
            if before.0 < before.1 && above.most_roots(before.0, before.1) == 0 {
                return Some(curve.frequency(u));
            }
        }
        let close = |a: f64, b: f64| zero(|u| curve.excess(u, self.power), a, b);
        let (least, most) = above.bounds()?;
        let u = match way {
            Way::Up => above.first(start.max(least), most, way, &close),
            Way::Down => above.first(least, start.min(most), way, &close),
        };
        u.map(|u| curve.frequency(u))
    }

    /// A root of |N|² − power·|D|² close to a place, by Newton's method; none when it does not settle soon.
    fn newton(&self, near: f64) -> Option<f64> {
        let mut u = near;
        for _ in 0..8 {
            let (excess, slope) = self.curve.excess_and_slope(u, self.power);
            let step = excess / slope;
            u -= step;
            if !(u < near * (NEAR * NEAR) && u * (NEAR * NEAR) > near) {
                return None;
            }
            if step.abs() < 1e-11 * u {
                return Some(u);
            }
        }
        None
    }
}

/// Coefficients, lowest power first; up to so many need no space on the heap.
type Coefficients = SmallVec<[f64; 16]>;

/// |N|² − power·|D|² as a polynomial in u.
struct Above(Coefficients);

impl Above {
    fn new(transfer: &Transfer, power: f64) -> Above {
        let mut all: Coefficients = smallvec![0.0; transfer.num.len().max(transfer.den.len())];
        add_square(&mut all, &transfer.num, 1.0);
        add_square(&mut all, &transfer.den, -power);
        Above(all)
    }

    /// Two places below and above all positive roots (Cauchy's bound, for the polynomial and its reverse); none
    /// where there cannot be any.
    fn bounds(&self) -> Option<(f64, f64)> {
        let all = &self.0;
        let first = all.iter().position(|c| *c != 0.0)?;
        let last = all.iter().rposition(|c| *c != 0.0)?;
        if first == last {
            return None;
        }
        let most = |among: &[f64], lead: f64| {
            let shares = among.iter().map(|c| (c / lead).abs());
            1.0 + shares.fold(0.0, f64::max)
        };
        let high = most(&all[first..last], all[last]);
        let low = 1.0 / most(&all[first + 1..=last], all[first]);
        (low.is_finite() && high.is_finite()).then_some((low, high))
    }

    /// At most so many roots lie between two places (0 ≤ a < b), and an even number fewer: changes of sign in
    /// `(1 + t)ⁿ·P((a + b·t)/(1 + t))`.
    fn most_roots(&self, a: f64, b: f64) -> usize {
        let mut c = self.0.clone();
        shift(&mut c, a);
        let mut power = 1.0;
        for c in c.iter_mut() {
            *c *= power;
            power *= b - a;
        }
        c.reverse();
        sums(&mut c);
        let signs = c.iter().filter(|c| **c != 0.0).map(|c| *c > 0.0);
        let mut changes = 0;
        let mut last = None;
        for sign in signs {
            changes += usize::from(last.is_some_and(|last| last != sign));
            last = Some(sign);
        }
        changes
    }

    /// The root between two places that comes first on the way; `close` closes in on the only one of a stretch.
    fn first(
        &self,
        a: f64,
        b: f64,
        way: Way,
        close: &dyn Fn(f64, f64) -> Option<f64>,
    ) -> Option<f64> {
        if b.is_nan() || b <= a * (1.0 + NARROWEST) {
            return None;
        }
        match self.most_roots(a, b) {
            0 => return None,
            1 if b < 4.0 * a => return close(a, b),
            _ => {}
        }
        let middle = (a * b).sqrt();
        if !(middle > a && middle < b) {
            return None;
        }
        let (low, high) = ((a, middle), (middle, b));
        let (one, other) = match way {
            Way::Up => (low, high),
            Way::Down => (high, low),
        };
        self.first(one.0, one.1, way, close)
            .or_else(|| self.first(other.0, other.1, way, close))
    }
}

/// Adds `factor·|Σ c[k]·(jx)^k|²` to a polynomial in u = x².
fn add_square(to: &mut [f64], c: &[f64], factor: f64) {
    for (i, a) in c.iter().enumerate() {
        let own = factor * a;
        to[i] += own * a;
        // (jx)^i times the conjugate of (jx)^k, and the same the other way about.
        let mut twice = -2.0 * own;
        for k in (i + 2..c.len()).step_by(2) {
            to[(i + k) / 2] += twice * c[k];
            twice = -twice;
        }
    }
}

/// P(u) becomes P(u + by) (Horner's scheme, repeated).
fn shift(c: &mut [f64], by: f64) {
    for first in 0..c.len().saturating_sub(1) {
        for k in (first..c.len() - 1).rev() {
            c[k] += by * c[k + 1];
        }
    }
}

/// P(u) becomes P(u + 1).
fn sums(c: &mut [f64]) {
    for first in 0..c.len().saturating_sub(1) {
        let mut above = c[c.len() - 1];
        for c in c[first..].iter_mut().rev().skip(1) {
            above += *c;
            *c = above;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of polynomials made from their roots, all signs of roots are told apart: never fewer than there are, and as
    /// many but for an even number.
    #[test]
    fn roots_are_never_missed() {
        let (mut c, roots) = (vec![1.0], [0.5, 2.0, 2.1, 70.0, -3.0]);
        for root in roots {
            let mut next = vec![0.0; c.len() + 1];
            for (k, a) in c.iter().enumerate() {
                next[k] -= root * a;
                next[k + 1] += a;
            }
            c = next;
        }
        let above = Above(Coefficients::from(c));
        for (a, b) in [
            (0.0, 1.0),
            (0.0, 1.9),
            (1.9, 2.05),
            (1.0, 3.0),
            (3.0, 60.0),
            (0.1, 100.0),
        ] {
            let there = roots.iter().filter(|root| (a..b).contains(*root)).count();
            let most = above.most_roots(a, b);
            assert!(
                most >= there && (most - there).is_multiple_of(2),
                "{a} to {b}: {most}"
            );
        }
    }

    #[test]
    fn squares_on_the_axis() {
        let c = [1.0, 2.0, -3.0, 0.5, 4.0];
        let mut square = [0.0; 5];
        add_square(&mut square, &c, 2.0);
        for x in [0.3f64, 1.0, 2.5] {
            let value = super::super::polynomial::horner(&c, num_complex::Complex64::new(0.0, x));
            let sum = square.iter().rev().fold(0.0, |sum, c| sum * x * x + c);
            assert!((sum / (2.0 * value.norm_sqr()) - 1.0).abs() < 1e-12);
        }
    }
}
