//! One stage of a chain: a pair of poles, or one real pole, with its zeros.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

/// The poles of a section.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum PoleShape {
    /// `D = s² + s·ω0/Q + ω0²`; Q below one half is two real poles.
    Pair {
        /// f0, Hz.
        frequency: f64,
        q: f64,
    },
    /// `D = s + ω0`.
    Real {
        /// f0, Hz.
        frequency: f64,
    },
}

/// The zeros of a section; `N` is scaled so that the section's gain means something.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ZeroShape {
    /// Low-pass: `N = ω0²`, or `ω0` over one real pole. The gain is that at DC.
    None,
    /// One zero at 0. Over a pair a band-pass, `N = s·ω0/Q`, and the gain is that at f0; over one real
    /// pole a high-pass, `N = s`, and the gain is that far above.
    Origin1,
    /// High-pass: `N = s²`, two zeros at 0. The gain is that far above.
    Origin2,
    /// A notch: `N = s² + ωz²`. A low-pass notch if the frequency lies above the poles', a high-pass
    /// notch below. The gain is that far above; at DC it is `(fz/f0)²` times as much.
    Imaginary {
        /// fz, Hz.
        frequency: f64,
    },
}

/// `H = gain·N/D`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Section {
    pub pole: PoleShape,
    /// No more zeros than poles: over one real pole only `None` and `Origin1` are made.
    pub zeros: ZeroShape,
    /// A factor; its sign is that of the section.
    pub gain: f64,
}

impl Section {
    /// f0, Hz.
    pub fn frequency(&self) -> f64 {
        match self.pole {
            PoleShape::Pair { frequency, .. } | PoleShape::Real { frequency } => frequency,
        }
    }

    /// Q of the pair; of one real pole nothing.
    pub fn q(&self) -> Option<f64> {
        match self.pole {
            PoleShape::Pair { q, .. } => Some(q),
            PoleShape::Real { .. } => None,
        }
    }

    /// H at the frequency, Hz; at infinity the limit.
    pub fn at(&self, frequency: f64) -> Complex64 {
        if frequency.is_infinite() {
            return Complex64::new(self.far_above(), 0.0);
        }
        let x = frequency / self.frequency();
        let jx = Complex64::new(0.0, x);
        let (below, damping) = match self.pole {
            PoleShape::Pair { q, .. } => (Complex64::new((1.0 - x) * (1.0 + x), x / q), jx / q),
            PoleShape::Real { .. } => (1.0 + jx, jx),
        };
        let above = match self.zeros {
            ZeroShape::None => Complex64::ONE,
            ZeroShape::Origin1 => damping,
            ZeroShape::Origin2 => jx * jx,
            ZeroShape::Imaginary { frequency } => {
                let z = frequency / self.frequency();
                Complex64::new((z - x) * (z + x), 0.0)
            }
        };
        above / below * self.gain
    }

    fn far_above(&self) -> f64 {
        match (self.zeros, self.pole) {
            (ZeroShape::None, _) | (ZeroShape::Origin1, PoleShape::Pair { .. }) => 0.0,
            _ => self.gain,
        }
    }

    /// What multiplies the highest power of s in `N`, (rad/s) to the power of the poles it has fewer.
    pub(super) fn leading(&self) -> f64 {
        let omega = std::f64::consts::TAU * self.frequency();
        match (self.zeros, self.pole) {
            (ZeroShape::None, PoleShape::Pair { .. }) => omega * omega,
            (ZeroShape::None, PoleShape::Real { .. }) => omega,
            (ZeroShape::Origin1, PoleShape::Pair { q, .. }) => omega / q,
            _ => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gains_where_they_are_said_to_be() {
        let section = |zeros| Section {
            pole: PoleShape::Pair {
                frequency: 100.0,
                q: 5.0,
            },
            zeros,
            gain: 3.0,
        };
        let notch = section(ZeroShape::Imaginary { frequency: 200.0 });
        assert_eq!(section(ZeroShape::None).at(0.0).norm(), 3.0);
        assert_eq!(section(ZeroShape::Origin1).at(100.0).norm(), 3.0);
        assert_eq!(section(ZeroShape::Origin2).at(f64::INFINITY).norm(), 3.0);
        assert_eq!(notch.at(0.0).norm(), 12.0);
        assert_eq!(notch.at(200.0).norm(), 0.0);
        assert_eq!(notch.at(f64::INFINITY).norm(), 3.0);
    }
}
