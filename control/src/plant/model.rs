//! A plant as a few numbers: rigid body, modes, a lag, a delay.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::Rigid;
use crate::quantity::to_digits;
use crate::response::Transfer;

/// `P(s) = e^(−s·delay) · 1/(1 + s/ω_lag) · (rigid(s) + Σ (A + B·s)/(s² + 2·ζ·ω·s + ω²))`.
///
/// A sum over modes, as modal analysis has it (Ewins, "Modal Testing", 2.4; from memory): a mode's share
/// of the answer does not depend on the other modes, and antiresonances are where shares cancel. A plant on
/// a suspension has no rigid part; its lowest mode is the suspension.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Model {
    /// What it does at low frequencies, where its modes are not all of it.
    pub rigid: Option<Rigid>,
    /// In ascending order of frequency.
    pub modes: Vec<Mode>,
    /// Corner of one first-order lag of coil, drive or sensor, Hz.
    pub lag: Option<f64>,
    /// Delay in seconds, 0 or more.
    pub delay: f64,
}

/// One pole pair: `(residue + slope·s)/(s² + 2·damping·ω·s + ω²)` with ω = 2π·frequency.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mode {
    /// Undamped natural frequency, Hz.
    pub frequency: f64,
    /// Damping ratio ζ, above 0.
    pub damping: f64,
    /// Modal constant A, in output per input times (rad/s)²; negative where sensor and drive move
    /// against each other.
    pub residue: f64,
    /// B, in output per input times rad/s; 0 for a structure with proportional damping.
    #[serde(default)]
    pub slope: f64,
}

impl Model {
    /// P(j·2π·frequency), frequency in Hz above 0.
    pub fn at(&self, frequency: f64) -> Complex64 {
        let s = Complex64::new(0.0, TAU * frequency);
        Complex64::cis(-TAU * frequency * self.delay) * self.rational(s)
    }

    /// P(s) without its delay, s in rad/s and not 0 where there are integrators.
    pub fn rational(&self, s: Complex64) -> Complex64 {
        let rigid = self.rigid.map_or(Complex64::ZERO, |r| r.of(s));
        let sum = self.modes.iter().fold(rigid, |sum, m| sum + m.of(s));
        match self.lag {
            Some(corner) => sum / (1.0 + s / (TAU * corner)),
            None => sum,
        }
    }
}

impl Model {
    /// Adds a mode above the highest, a tenth of its height.
    pub fn add_mode(&mut self) {
        let last = self.modes.last().copied().unwrap_or(Mode {
            frequency: 100.0,
            damping: 0.01,
            residue: (TAU * 100.0).powi(2),
            slope: 0.0,
        });
        self.modes.push(Mode {
            frequency: 3.0 * last.frequency,
            damping: 0.01,
            residue: 0.1 * last.residue,
            slope: 0.0,
        });
    }

    /// Gives the model a rigid part, a constant, or takes it away.
    pub fn toggle_rigid(&mut self) {
        self.rigid = match self.rigid {
            Some(_) => None,
            None => Model::default().rigid,
        };
    }

    /// The same with every number in so many digits.
    pub fn in_digits(&self, digits: usize) -> Model {
        let round = |value: f64| to_digits(value, digits);
        Model {
            rigid: self.rigid.map(|rigid| Rigid {
                gain: round(rigid.gain),
                friction: rigid.friction.map(round),
                ..rigid
            }),
            modes: self
                .modes
                .iter()
                .map(|mode| Mode {
                    frequency: round(mode.frequency),
                    damping: round(mode.damping),
                    residue: round(mode.residue),
                    slope: round(mode.slope),
                })
                .collect(),
            lag: self.lag.map(round),
            delay: round(self.delay),
        }
    }

    /// Sign of P towards low frequencies, whatever integrators turn it by.
    pub fn low_sign(&self) -> f64 {
        match self.rigid {
            Some(rigid) if rigid.at_rest() > 0 && rigid.gain != 0.0 => rigid.gain.signum(),
            _ => self.rational(Complex64::ZERO).re.signum(),
        }
    }

    /// The mode that holds the plant's position where nothing else does: the lowest, where there is no rigid part.
    pub fn suspension(&self) -> Option<usize> {
        let by_frequency = |a: &usize, b: &usize| {
            self.modes[*a]
                .frequency
                .total_cmp(&self.modes[*b].frequency)
        };
        let lowest = (0..self.modes.len()).min_by(by_frequency);
        lowest.filter(|_| self.rigid.is_none())
    }

    /// Poles in rad/s, without the delay's; those of integrators are zero.
    pub fn poles(&self) -> Vec<Complex64> {
        let rigid = self.rigid.iter().flat_map(Rigid::poles);
        let modes = self.modes.iter().flat_map(|mode| {
            let (omega, z) = (TAU * mode.frequency, mode.damping);
            let root = Complex64::new(z * z - 1.0, 0.0).sqrt();
            [root, -root].map(|root| omega * (root - z))
        });
        modes
            .chain(self.lag.map(|corner| Complex64::from(-TAU * corner)))
            .chain(rigid)
            .collect()
    }
}

impl Mode {
    /// The mode's share at s in rad/s.
    pub fn of(&self, s: Complex64) -> Complex64 {
        let omega = TAU * self.frequency;
        (self.residue + self.slope * s) / (s * s + 2.0 * self.damping * omega * s + omega * omega)
    }

    /// The mode's share as a rational function, scaled by its own frequency.
    pub fn transfer(&self) -> Transfer {
        let omega = TAU * self.frequency;
        Transfer {
            num: vec![self.residue / (omega * omega), self.slope / omega],
            den: vec![1.0, 2.0 * self.damping, 1.0],
            omega,
        }
    }

    /// Magnitude of the mode's own share at its frequency, in output per input.
    pub fn height(&self) -> f64 {
        self.of(Complex64::new(0.0, TAU * self.frequency)).norm()
    }
}

impl Default for Model {
    /// A constant gain of 1.
    fn default() -> Model {
        Model {
            rigid: Some(Rigid::new(0, 1.0)),
            modes: Vec::new(),
            lag: None,
            delay: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mode_is_as_high_as_its_damping_lets_it() {
        let omega = TAU * 100.0;
        let mode = Mode {
            frequency: 100.0,
            damping: 0.01,
            residue: omega * omega,
            slope: 0.0,
        };
        assert!((mode.height() - 50.0).abs() < 1e-9); // 1/(2ζ)
    }

    #[test]
    fn delay_turns_and_does_not_scale() {
        let model = Model {
            delay: 1e-3,
            ..Model::default()
        };
        let answer = model.at(250.0); // a quarter of a turn
        assert!((answer - Complex64::new(0.0, -1.0)).norm() < 1e-12);
    }
}
