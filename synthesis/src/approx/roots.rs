//! A transfer function as its zeros, poles and one factor.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

/// `H(s) = gain·Π(s − z)/Π(s − p)`, roots in rad/s.
///
/// What this room makes holds every complex root next to its exact conjugate, and real roots with an
/// imaginary part of exactly zero.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Roots {
    /// Zeros, rad/s; those at infinity are not listed.
    pub zeros: Vec<Complex64>,
    /// Poles, rad/s.
    pub poles: Vec<Complex64>,
    /// The factor before the fraction, in (rad/s) to the power of the surplus of poles.
    pub gain: f64,
}

impl Roots {
    /// H at the frequency, Hz.
    pub fn at(&self, frequency: f64) -> Complex64 {
        self.at_s(Complex64::new(0.0, TAU * frequency))
    }

    /// H at any point of the s-plane, rad/s.
    pub fn at_s(&self, s: Complex64) -> Complex64 {
        let mut zeros = self.zeros.iter();
        let mut h = Complex64::new(self.gain, 0.0);
        // A zero for a pole as long as there are any, so that the product stays of moderate size.
        for p in &self.poles {
            h /= s - p;
            if let Some(z) = zeros.next() {
                h *= s - z;
            }
        }
        zeros.fold(h, |h, z| h * (s - z))
    }
}

/// Puts a root and its conjugate on the list.
pub(super) fn push_pair(list: &mut Vec<Complex64>, root: Complex64) {
    list.extend([root, root.conj()]);
}

/// `Π(−p)/Π(−z)`: the factor that makes H one at DC, for roots that come in pairs or are real.
pub(super) fn unity_at_dc(zeros: &[Complex64], poles: &[Complex64]) -> f64 {
    let product = |roots: &[Complex64]| roots.iter().fold(Complex64::ONE, |p, root| p * -root).re;
    product(poles) / product(zeros)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_first_order_low_pass_at_its_edge() {
        let roots = Roots {
            zeros: vec![],
            poles: vec![Complex64::new(-TAU, 0.0)],
            gain: TAU,
        };
        assert!((roots.at(1.0) - Complex64::new(0.5, -0.5)).norm() < 1e-15);
    }
}
