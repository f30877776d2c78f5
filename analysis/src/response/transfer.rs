//! A rational transfer function in scaled s.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::polynomial::on_axis;
use super::roots::roots;
use super::stability::has_no_right_root;
use super::turning::turning;
use crate::numerics::modulus;

/// `H(s) = Σ num[k]·p^k / Σ den[k]·p^k` with `p = s/omega`.
///
/// Scaling by a frequency near the circuit's own keeps the coefficients near 1. A numerator with no
/// coefficients is the zero function.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Transfer {
    /// Numerator, lowest power first.
    pub num: Vec<f64>,
    /// Denominator, lowest power first.
    pub den: Vec<f64>,
    /// What s is divided by, rad/s.
    pub omega: f64,
}

impl Transfer {
    /// H = 0, in the given scale; a place for results to be written to.
    pub fn zero(omega: f64) -> Transfer {
        Transfer {
            num: Vec::new(),
            den: vec![1.0],
            omega,
        }
    }

    /// H(j·2π·frequency), frequency in Hz.
    ///
    /// ```
    /// use analysis::response::Transfer;
    /// let low_pass = Transfer { num: vec![1.0], den: vec![1.0, 1.0], omega: std::f64::consts::TAU };
    /// assert!((low_pass.at(1.0).norm_sqr() - 0.5).abs() < 1e-15);
    /// ```
    pub fn at(&self, frequency: f64) -> Complex64 {
        let x = TAU * frequency / self.omega;
        on_axis(&self.num, x) / on_axis(&self.den, x)
    }

    /// |H| in decibels at a frequency in Hz.
    pub fn magnitude_db(&self, frequency: f64) -> f64 {
        20.0 * modulus(self.at(frequency)).log10()
    }

    /// Group delay −dφ/dω in seconds at a frequency in Hz, from the polynomials themselves:
    /// `Re(D'/D − N'/N)`. At a zero on the axis, where the phase jumps, it is the limit from both sides.
    pub fn group_delay(&self, frequency: f64) -> f64 {
        let x = TAU * frequency / self.omega;
        (turning(&self.den, x) - turning(&self.num, x)) / self.omega
    }

    /// Phase in degrees at a frequency in Hz, from −180° to 180°.
    pub fn phase_deg(&self, frequency: f64) -> f64 {
        self.at(frequency).arg().to_degrees()
    }

    /// Sign of H towards low frequencies: of its first coefficients that are not zero.
    pub fn low_sign(&self) -> f64 {
        let first = |coefficients: &[f64]| coefficients.iter().copied().find(|c| *c != 0.0);
        let (num, den) = (first(&self.num), first(&self.den));
        num.unwrap_or(1.0).signum() * den.unwrap_or(1.0).signum()
    }

    /// Whether no pole lies in the right half plane.
    pub fn is_stable(&self) -> bool {
        has_no_right_root(&self.den)
    }

    /// Poles in the right half plane; none exactly where [`Transfer::is_stable`].
    pub fn right_poles(&self) -> usize {
        if self.is_stable() {
            return 0;
        }
        let poles = self.poles();
        // What cannot be solved does not count as stable.
        poles.iter().filter(|pole| pole.re > 0.0).count().max(1)
    }

    /// Poles in rad/s.
    pub fn poles(&self) -> Vec<Complex64> {
        roots(&self.den)
            .into_iter()
            .map(|p| p * self.omega)
            .collect()
    }

    /// Zeros in rad/s.
    pub fn zeros(&self) -> Vec<Complex64> {
        roots(&self.num)
            .into_iter()
            .map(|p| p * self.omega)
            .collect()
    }
}
