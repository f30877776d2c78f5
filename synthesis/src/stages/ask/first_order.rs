//! First-order low-pass and high-pass.

use serde::{Deserialize, Serialize};

use super::passband::CORNERS;
use super::{Asked, Entry, Measured, Pass, Shape, Side};

/// One pole.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CornerAsk {
    /// Corner, Hz.
    pub frequency: f64,
    /// Passband gain, a ratio without its sign.
    pub gain: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for CornerAsk {
    fn default() -> CornerAsk {
        CornerAsk {
            frequency: 1000.0,
            gain: 1.0,
            frequency_limit: 0.05,
            gain_limit: 0.05,
        }
    }
}

impl Asked for (Pass, &CornerAsk) {
    fn frequency(&self) -> f64 {
        self.1.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "frequency",
                "Corner frequency",
                "Where the gain is 3 dB below the passband's.",
            ),
            Entry::gain("gain", "Gain", "Passband gain, without its sign."),
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

impl Measured for (Pass, &CornerAsk) {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let (pass, ask) = *self;
        let shape = match pass {
            Pass::Low => Shape::new(0.0, ask.gain, ask.gain_limit, "Gain at DC"),
            _ => {
                let at = CORNERS * ask.frequency;
                let of = ask.gain / (1.0 + CORNERS.powi(-2)).sqrt();
                let label = format!("Gain above, at {CORNERS} corners");
                Shape::new(at, of, ask.gain_limit, label).at_origin(1)
            }
        };
        let named = "corner-frequency";
        Box::new(shape.corner(
            Side::Pole,
            named,
            "Corner frequency",
            ask.frequency,
            ask.frequency_limit,
        ))
    }
}
