//! Low-pass notch and high-pass notch: zeros on the axis, poles elsewhere.

use serde::{Deserialize, Serialize};

use super::{Asked, Entry, Measured, Shape, Side};
use crate::quantity::Unit;

/// A null above the poles (low-pass notch) or below them (high-pass notch).
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct UnevenNotchAsk {
    /// Frequency of the null, Hz.
    pub null: f64,
    /// Natural frequency of the poles, Hz.
    pub frequency: f64,
    /// Q of the poles.
    pub q: f64,
    /// Gain at DC, a ratio without its sign.
    pub gain: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
    /// Attenuation at the asked null must be at least this, dB.
    pub least_depth: f64,
}

impl Default for UnevenNotchAsk {
    fn default() -> UnevenNotchAsk {
        UnevenNotchAsk {
            null: 5000.0,
            frequency: 3500.0,
            q: 2.0,
            gain: 1.0,
            frequency_limit: 0.05,
            q_limit: 0.1,
            gain_limit: 0.05,
            least_depth: 18.0,
        }
    }
}

impl Asked for UnevenNotchAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn span(&self) -> (f64, f64) {
        (self.frequency.min(self.null), self.frequency.max(self.null))
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "null",
                "Null frequency",
                "Where nothing shall come through.",
            ),
            Entry::frequency(
                "frequency",
                "Pole frequency",
                "Below the null for a low-pass notch, above it for a high-pass notch.",
            ),
            Entry::ask("q", "Q", Unit::One, (0.3, 100.0), "Q of the pole pair."),
            Entry::gain(
                "gain",
                "Gain at DC",
                "Without its sign; far above it is this times the square of null over pole frequency, inverted.",
            ),
            Entry::limit(
                "frequency_limit",
                "Frequency ±",
                "A board with a larger deviation of a frequency fails.",
            ),
            Entry::limit(
                "q_limit",
                "Q ±",
                "A board with a larger deviation of the Q fails.",
            ),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
            Entry::ask(
                "least_depth",
                "Least attenuation",
                Unit::Decibel,
                (3.5, 120.0),
                "Least attenuation at the required null frequency on every good board.",
            )
            .among_limits(),
        ]
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        let mut conflicts = Vec::new();
        let ratio = self.null / self.frequency;
        if (ratio - 1.0).abs() < 0.01 {
            conflicts.push(("null", "Null frequency must differ from the pole frequency by 1 % or more; use a notch where they are the same.".to_owned()));
        }
        if !(1.0 / 30.0..=30.0).contains(&ratio) {
            conflicts.push((
                "null",
                "Null frequency must lie within a factor of 30 of the pole frequency.".to_owned(),
            ));
        }
        conflicts
    }
}

impl Measured for UnevenNotchAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let limits = (self.frequency_limit, self.q_limit);
        Box::new(
            Shape::new(0.0, self.gain, self.gain_limit, "Gain at DC")
                .null(self.null, self.frequency_limit, self.least_depth)
                .pair(
                    Side::Pole,
                    ("pole-frequency", "q"),
                    "Pole",
                    (self.frequency, self.q),
                    limits,
                ),
        )
    }
}
