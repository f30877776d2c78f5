//! Nyquist's count: how many poles the closed loop has in the right half plane.
//!
//! Ogata, "Modern Control Engineering", 7.5: Z = N + P. Counted here by the angle that 1 + L turns
//! through along the positive frequency axis.

use std::f64::consts::PI;

use num_complex::Complex64;

use super::OpenLoop;
use super::trace::Traced;

/// Unstable poles of the closed loop, from the open loop's curve.
///
/// `unstable` of the open loop's poles lie in the right half plane and `at_origin` at s = 0, round
/// which the contour passes on the right. The curve must reach down to where L is asymptotic to
/// s^(−at_origin) and up to where 1 + L has converged. None where the count is not close to an integer, as
/// when L passes through −1 or the curve ends too early.
pub fn unstable_poles(traced: &[Traced], unstable: usize, at_origin: usize) -> Option<usize> {
    let turned: f64 = traced
        .windows(2)
        .map(|pair| ((1.0 + pair[1].open) / (1.0 + pair[0].open)).arg())
        .sum();
    // By symmetry half the encirclements are on the positive axis. The Nyquist contour passes the n poles at the origin on
    // an infinitesimal semicircle to their right; there 1 + L ≈ k/sⁿ, whose argument changes by −nπ over the semicircle
    // and by −nπ/2 over the half that belongs to the positive axis.
    let count = unstable as f64 + at_origin as f64 / 2.0 - turned / PI;
    let whole = count.round();
    ((count - whole).abs() < 0.2 && whole >= 0.0).then_some(whole as usize)
}

impl OpenLoop<'_> {
    /// Number of open-loop poles in the right half plane and at the origin, the arguments of [`unstable_poles`]; where the
    /// plant is a sweep, of the path alone.
    pub fn not_falling(&self) -> (usize, usize) {
        let poles = self.poles();
        let right = poles.iter().filter(|p| p.re > 0.0).count();
        let at_origin = poles.iter().filter(|p| **p == Complex64::ZERO).count();
        (right, at_origin)
    }
}
