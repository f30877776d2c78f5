//! Nyquist's count: how many poles the closed loop has in the right half plane.
//!
//! Ogata, "Modern Control Engineering", 7.5: Z = N + P. Counted here by the angle that 1 + L turns
//! through along the positive frequency axis.

use std::f64::consts::PI;

use num_complex::Complex64;

use super::OpenLoop;
use super::trace::{SPUN, Traced, spin};
use crate::plant::Plant;

/// Poles of an open loop that do not lie in the left half plane.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OpenPoles {
    /// In the right half plane.
    pub right: usize,
    /// At s = 0, round which the contour passes on the right.
    pub at_origin: usize,
}

impl OpenPoles {
    /// Unstable poles of the closed loop, given the angle (rad) that 1 + L turns through along the positive frequency
    /// axis. None where the count is not close to an integer.
    pub(super) fn closed_unstable(self, turned: f64) -> Option<usize> {
        // By symmetry half the encirclements are on the positive axis. The Nyquist contour passes the n poles at the
        // origin on an infinitesimal semicircle to their right; there 1 + L ≈ k/sⁿ, whose argument changes by −nπ over
        // the semicircle and by −nπ/2 over the half that belongs to the positive axis.
        let count = self.right as f64 + self.at_origin as f64 / 2.0 - turned / PI;
        let whole = count.round();
        ((count - whole).abs() < 0.2 && whole >= 0.0).then_some(whole as usize)
    }
}

/// Unstable poles of the closed loop, from the open loop's curve; its delay in seconds.
///
/// The curve must reach down to where L is asymptotic to s^(−at_origin) and up to where 1 + L has converged. None where
/// the count is not close to an integer, as when L passes through −1 or the curve ends too early.
pub fn unstable_poles(traced: &[Traced], delay: f64, open: OpenPoles) -> Option<usize> {
    let pairs = traced.windows(2);
    let turned = pairs.map(|pair| turned(delay, &pair[0], &pair[1])).sum();
    open.closed_unstable(turned)
}

/// The angle (rad) that 1 + L turns through from one point to the next.
fn turned(delay: f64, a: &Traced, b: &Traced) -> f64 {
    let (l, m) = (a.open, b.open);
    let spin = spin(delay, a.frequency, b.frequency);
    let turn = ((1.0 + m) / (1.0 + l)).arg();
    if spin <= SPUN && turn.abs() <= SPUN {
        return turn;
    }
    // Not followed: L may go round many times, and |L| is on one side of 1 all the while, up to a rounding error at an end.
    // Inside the unit circle 1 + L stays right of 0; outside, it is L times what stays right of 0, and L turns by what
    // its delay turns it by and the little that the rest does.
    if l.norm_sqr() * m.norm_sqr() <= 1.0 {
        return (1.0 + m).arg() - (1.0 + l).arg();
    }
    let rest = (m * Complex64::cis(spin) / l).arg();
    rest - spin + (1.0 + 1.0 / m).arg() - (1.0 + 1.0 / l).arg()
}

impl OpenLoop<'_> {
    /// Its poles that do not lie in the left half plane; where the plant is a sweep, those of the path alone.
    pub fn open_poles(&self) -> OpenPoles {
        let poles = self.poles();
        OpenPoles {
            right: self.right_poles(),
            at_origin: poles.iter().filter(|p| **p == Complex64::ZERO).count(),
        }
    }

    /// Its poles in the right half plane; where the plant is a sweep, those of the path alone.
    pub(super) fn right_poles(&self) -> usize {
        let of_stages: usize = self.stages.iter().map(|stage| stage.right_poles()).sum();
        let of_plant = self.plant.poles();
        of_stages + of_plant.iter().filter(|pole| pole.re > 0.0).count()
    }

    /// [`unstable_poles`] of this loop, `traced` its curve; none for a sweep, whose poles are not known.
    pub fn unstable_poles(&self, traced: &[Traced]) -> Option<usize> {
        match self.plant {
            Plant::Model(model) => unstable_poles(traced, model.delay, self.open_poles()),
            Plant::Sweep(_) => None,
        }
    }
}
