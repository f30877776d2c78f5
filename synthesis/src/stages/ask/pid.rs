//! PID with a roll-off, in the three ways in which it is written.

use std::f64::consts::TAU;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use super::{Asked, Choice, Entry, Measured, Shape, Side};
use crate::quantity::Unit;
use crate::response::Factor;
use crate::tagged;

/// `Kp + Ki/s + Kd·s/(1 + s/ω)`, ω the roll-off; written as [`PidValues`] says.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PidAsk {
    pub values: PidValues,
    /// Corner where derivative action stops rising, Hz.
    pub roll_off: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The zeros' Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

/// The three notations; each says the same.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "notation", rename_all = "kebab-case", deny_unknown_fields)]
pub enum PidValues {
    /// Kp; Ki in 1/s; Kd in s.
    Gains {
        /// Proportional gain.
        kp: f64,
        /// Integral gain, 1/s.
        ki: f64,
        /// Derivative gain, s.
        kd: f64,
    },
    /// The standard form Kp·(1 + 1/(Ti·s) + Td·s/(1 + s/ω)); times in s.
    Times {
        /// Proportional gain.
        kp: f64,
        /// Integral time Ti, s.
        ti: f64,
        /// Derivative time Td, s.
        td: f64,
    },
    /// Two real zeros in Hz and the gain at a frequency in Hz.
    Zeros {
        /// Lower zero, Hz.
        low: f64,
        /// Upper zero, Hz.
        high: f64,
        /// Gain at the frequency `at`.
        gain: f64,
        /// Where the gain is asked for, Hz.
        at: f64,
    },
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "PidValues", rename_all = "kebab-case", deny_unknown_fields)]
enum Outside {
    Gains {
        kp: f64,
        ki: f64,
        kd: f64,
    },
    Times {
        kp: f64,
        ti: f64,
        td: f64,
    },
    Zeros {
        low: f64,
        high: f64,
        gain: f64,
        at: f64,
    },
}

impl<'de> Deserialize<'de> for PidValues {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<PidValues, D::Error> {
        let tree = tagged::outside(deserializer, "notation")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

/// Kp, Ki (1/s) and Kd (s).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gains {
    pub kp: f64,
    pub ki: f64,
    pub kd: f64,
}

impl Default for PidAsk {
    fn default() -> PidAsk {
        PidAsk {
            values: PidValues::Zeros {
                low: 40.0,
                high: 160.0,
                gain: 1.0,
                at: 420.0,
            },
            roll_off: 4000.0,
            frequency_limit: 0.1,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

impl PidAsk {
    /// The choice between notations.
    pub const NOTATION: &'static str = "values/notation";

    /// The three actions.
    pub fn gains(&self) -> Gains {
        let tau = 1.0 / (TAU * self.roll_off);
        match self.values {
            PidValues::Gains { kp, ki, kd } => Gains { kp, ki, kd },
            PidValues::Times { kp, ti, td } => Gains {
                kp,
                ki: kp / ti,
                kd: kp * td,
            },
            PidValues::Zeros {
                low,
                high,
                gain,
                at,
            } => {
                // Ki·(1 + s/a)(1 + s/b) = (Kp·s + Ki)(1 + tau·s) + Kd·s²
                let (a, b, w) = (TAU * low, TAU * high, TAU * at);
                let zeros = (1.0 + (w / a).powi(2)).sqrt() * (1.0 + (w / b).powi(2)).sqrt();
                let ki = gain * w * (1.0 + (w * tau).powi(2)).sqrt() / zeros;
                let kp = ki * (1.0 / a + 1.0 / b - tau);
                let kd = ki / (a * b) - kp * tau;
                Gains { kp, ki, kd }
            }
        }
    }

    /// The zeros as one factor (rad/s).
    pub fn zeros(&self) -> Factor {
        let Gains { kp, ki, kd } = self.gains();
        let tau = 1.0 / (TAU * self.roll_off);
        let top = kd + kp * tau;
        Factor {
            u: (kp + ki * tau) / top,
            v: ki / top,
        }
    }

    /// Frequency (Hz) and Q of the zeros.
    fn pair(&self) -> (f64, f64) {
        let zeros = self.zeros();
        (zeros.frequency() / TAU, zeros.q())
    }

    /// Magnitude at a frequency in Hz.
    pub fn gain_at(&self, frequency: f64) -> f64 {
        let w = TAU * frequency;
        let tau = 1.0 / (TAU * self.roll_off);
        let Gains { kp, ki, kd } = self.gains();
        let top = kd + kp * tau;
        let re = ki - top * w * w;
        let im = w * (kp + ki * tau);
        re.hypot(im) / (w * (1.0 + (w * tau).powi(2)).sqrt())
    }

    /// The same controller in another notation.
    ///
    /// # Errors
    /// When its zeros are a complex pair and two real ones are wanted.
    pub fn in_notation(&self, notation: &str) -> Result<PidAsk, String> {
        let Gains { kp, ki, kd } = self.gains();
        let values = match notation {
            "gains" => PidValues::Gains { kp, ki, kd },
            "times" => PidValues::Times {
                kp,
                ti: kp / ki,
                td: kd / kp,
            },
            "zeros" => {
                let zeros = self.zeros();
                if zeros.q() > 0.5 + 1e-9 {
                    return Err(format!(
                        "Notation by two zeros takes real ones, and these gains give a complex pair of Q {:.3}; \
                         less Ki or Kd, or more Kp, makes them real.",
                        zeros.q()
                    ));
                }
                let (low, high) = zeros.corners();
                let at = match self.values {
                    PidValues::Zeros { at, .. } => at,
                    _ => zeros.frequency() / TAU,
                };
                PidValues::Zeros {
                    low: low / TAU,
                    high: high / TAU,
                    gain: self.gain_at(at),
                    at,
                }
            }
            other => return Err(format!("Notation has no such choice as “{other}”.")),
        };
        Ok(PidAsk {
            values,
            ..self.clone()
        })
    }
}

impl Asked for PidAsk {
    fn frequency(&self) -> f64 {
        match self.values {
            PidValues::Zeros { at, .. } => at,
            _ => self.pair().0,
        }
    }

    fn span(&self) -> (f64, f64) {
        let (low, high) = self.zeros().corners();
        let ends = [low / TAU, high / TAU, self.frequency(), self.roll_off];
        (
            ends.into_iter().fold(f64::INFINITY, f64::min),
            ends.into_iter().fold(0.0, f64::max),
        )
    }

    fn choices(&self) -> Vec<Choice> {
        vec![Choice {
            name: PidAsk::NOTATION,
            label: "Written as",
            options: vec![
                ("gains", "Kp, Ki, Kd"),
                ("times", "Kp, Ti, Td (standard form)"),
                ("zeros", "two zeros and a gain"),
            ],
            help: "Changing it converts the values; the controller stays the same.",
        }]
    }

    fn entries(&self) -> Vec<Entry> {
        const GAIN: (f64, f64) = (1e-6, 1e6);
        let number = |name, label, unit, help| Entry::ask(name, label, unit, GAIN, help);
        let seconds =
            |name, label, help| Entry::ask(name, label, Unit::Second, (1e-9, 1000.0), help);
        let kp = number("values/kp", "Kp", Unit::One, "Proportional gain.");
        let mut entries = match self.values {
            PidValues::Gains { .. } => vec![
                kp,
                Entry::ask(
                    "values/ki",
                    "Ki, 1/s",
                    Unit::One,
                    (1e-6, 1e9),
                    "Integral gain, per second.",
                ),
                seconds("values/kd", "Kd", "Derivative gain, in seconds."),
            ],
            PidValues::Times { .. } => vec![
                kp,
                seconds(
                    "values/ti",
                    "Ti",
                    "Integral time: proportional over integral gain.",
                ),
                seconds(
                    "values/td",
                    "Td",
                    "Derivative time: derivative over proportional gain.",
                ),
            ],
            PidValues::Zeros { .. } => vec![
                Entry::frequency("values/low", "Lower zero", "Corner of the lower zero."),
                Entry::frequency("values/high", "Upper zero", "Corner of the upper zero."),
                number(
                    "values/gain",
                    "Gain",
                    Unit::One,
                    "At the frequency below, without its sign.",
                ),
                Entry::frequency(
                    "values/at",
                    "Gain specified at",
                    "The loop's crossover, for example.",
                ),
            ],
        };
        entries.push(Entry::frequency(
            "roll_off",
            "Roll-off",
            "Where derivative action stops rising.",
        ));
        entries.push(Entry::limit(
            "frequency_limit",
            "Frequency ±",
            "A board with a larger deviation of zeros or roll-off fails.",
        ));
        entries.push(Entry::limit(
            "q_limit",
            "Q of the zeros ±",
            "A board with a larger deviation of √(low·high)/(low + high) of the zeros fails.",
        ));
        entries.push(Entry::limit(
            "gain_limit",
            "Gain ±",
            "A board with a larger deviation of the gain fails.",
        ));
        entries
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        let Gains { kp, ki, kd } = self.gains();
        let mut conflicts = Vec::new();
        if let PidValues::Zeros { low, high, .. } = self.values
            && high < low
        {
            conflicts.push((
                "values/high",
                "Upper zero must not lie below the lower zero.".to_owned(),
            ));
        }
        if !(kp > 0.0 && ki > 0.0 && kd > 0.0) {
            conflicts.push((
                "roll_off",
                "Roll-off is too low for these zeros: a PID that does this would need a negative gain; raise it above the upper zero."
                    .to_owned(),
            ));
        }
        conflicts
    }
}

impl Measured for PidAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let at = self.frequency();
        let (frequency, q) = self.pair();
        let limits = (self.frequency_limit, self.q_limit);
        let names = ("zero-frequency", "zero-q");
        let gain = self.gain_at(at);
        let shape =
            Shape::new(at, gain, self.gain_limit, "Gain at the required frequency").at_origin(-1);
        let shape = if q <= 0.5 {
            let (low, high) = self.zeros().corners();
            let split = (("zero-low", "Lower zero"), ("zero-high", "Upper zero"));
            shape.corners(
                Side::Zero,
                names,
                "Zero pair",
                (low / TAU, high / TAU),
                limits,
                split,
            )
        } else {
            shape.pair(Side::Zero, names, "Zero pair", (frequency, q), limits)
        };
        Box::new(shape.corner(
            Side::Pole,
            "pole-frequency",
            "Roll-off",
            self.roll_off,
            self.frequency_limit,
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notations_say_the_same() {
        let ask = PidAsk::default();
        for notation in ["gains", "times", "zeros"] {
            let other = ask.in_notation(notation).expect("real zeros");
            for f in [1.0, 100.0, 420.0, 1e4] {
                assert!((other.gain_at(f) / ask.gain_at(f) - 1.0).abs() < 1e-12);
            }
        }
        assert!((ask.gain_at(420.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn complex_zeros_are_told() {
        let ask = PidAsk {
            values: PidValues::Gains {
                kp: 1.0,
                ki: 1000.0,
                kd: 1e-3,
            },
            ..PidAsk::default()
        };
        assert!(
            ask.in_notation("zeros")
                .expect_err("complex")
                .contains("complex")
        );
    }
}
