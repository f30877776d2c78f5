//! All-passes: phase without loss.

use serde::{Deserialize, Serialize};

use super::{Asked, Entry, Measured, Shape, Side};
use crate::quantity::Unit;

/// A pole and its mirror image.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AllPass1Ask {
    /// Where the phase has turned by 90°, Hz.
    pub frequency: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for AllPass1Ask {
    fn default() -> AllPass1Ask {
        AllPass1Ask {
            frequency: 1000.0,
            frequency_limit: 0.05,
            gain_limit: 0.05,
        }
    }
}

/// A pair of poles and its mirror image.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AllPass2Ask {
    /// Where the phase has turned by 180°, Hz.
    pub frequency: f64,
    /// Q of the poles: the higher, the steeper the turn.
    pub q: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for AllPass2Ask {
    fn default() -> AllPass2Ask {
        AllPass2Ask {
            frequency: 1000.0,
            q: 1.0,
            frequency_limit: 0.05,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

impl Asked for AllPass1Ask {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "frequency",
                "Turning frequency",
                "Where the phase has turned by 90°.",
            ),
            Entry::limit(
                "frequency_limit",
                "Frequency ±",
                "A board with a larger deviation of a frequency fails.",
            ),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
        ]
    }
}

impl Measured for AllPass1Ask {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let (f, limit) = (self.frequency, self.frequency_limit);
        Box::new(
            Shape::new(f, 1.0, self.gain_limit, "Gain at the turn")
                .corner(Side::Pole, "pole-frequency", "Pole", f, limit)
                .corner(Side::Zero, "zero-frequency", "Zero", -f, limit),
        )
    }
}

impl Asked for AllPass2Ask {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "frequency",
                "Turning frequency",
                "Where the phase has turned by 180°.",
            ),
            Entry::ask(
                "q",
                "Q",
                Unit::One,
                (0.3, 50.0),
                "Q of the pole pair: the higher, the steeper the turn.",
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
        ]
    }
}

impl Measured for AllPass2Ask {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let (f, q) = (self.frequency, self.q);
        let limits = (self.frequency_limit, self.q_limit);
        Box::new(
            Shape::new(f, 1.0, self.gain_limit, "Gain at the turn")
                .pair(Side::Pole, ("pole-frequency", "q"), "Pole", (f, q), limits)
                .pair(
                    Side::Zero,
                    ("zero-frequency", "zero-q"),
                    "Zero",
                    (f, -q),
                    limits,
                ),
        )
    }
}
