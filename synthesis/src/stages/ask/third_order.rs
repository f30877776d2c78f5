//! Third-order low-pass and high-pass in one stage.

use serde::{Deserialize, Serialize};

use super::passband::POLE_FREQUENCIES;
use super::{Asked, Entry, Measured, Pass, Shape, Side};
use crate::quantity::Unit;
use crate::response::Way;

/// A pair of poles and a single one; as it opens, Butterworth.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TripleAsk {
    /// Natural frequency of the pair, Hz.
    pub frequency: f64,
    /// Its Q.
    pub q: f64,
    /// The single pole, Hz.
    pub corner: f64,
    /// Passband gain, a ratio without its sign.
    pub gain: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for TripleAsk {
    fn default() -> TripleAsk {
        TripleAsk {
            frequency: 5000.0,
            q: 1.0,
            corner: 5000.0,
            gain: 1.0,
            frequency_limit: 0.05,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

impl Asked for (Pass, &TripleAsk) {
    fn frequency(&self) -> f64 {
        self.1.frequency
    }

    fn span(&self) -> (f64, f64) {
        let (a, b) = (self.1.frequency, self.1.corner);
        (a.min(b), a.max(b))
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "frequency",
                "Pole frequency",
                "Natural frequency of the pole pair.",
            ),
            Entry::ask("q", "Q", Unit::One, (0.501, 50.0), "Q of the pole pair."),
            Entry::frequency("corner", "Single pole", "Corner of the third pole."),
            Entry::gain("gain", "Gain", "Passband gain, without its sign."),
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

impl Measured for (Pass, &TripleAsk) {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let (pass, ask) = *self;
        let shape = match pass {
            Pass::Low => Shape::new(0.0, ask.gain, ask.gain_limit, "Gain at DC"),
            _ => {
                let at = POLE_FREQUENCIES * ask.frequency;
                let (x, y) = (1.0 / POLE_FREQUENCIES, ask.corner / at);
                let pair = ((1.0 - x * x).powi(2) + (x / ask.q).powi(2)).sqrt();
                let of = ask.gain / (pair * (1.0 + y * y).sqrt());
                let label = format!("Gain above, at {POLE_FREQUENCIES} pole frequencies");
                Shape::new(at, of, ask.gain_limit, label).at_origin(3)
            }
        };
        let limits = (ask.frequency_limit, ask.q_limit);
        let shape = shape
            .pair(
                Side::Pole,
                ("pole-frequency", "q"),
                "Pole",
                (ask.frequency, ask.q),
                limits,
            )
            .corner(
                Side::Pole,
                "single-pole",
                "Single pole",
                ask.corner,
                ask.frequency_limit,
            );
        Box::new(match pass {
            Pass::Low => shape.edge("edge-high", "−3 dB edge", Way::Up),
            _ => shape.edge("edge-low", "−3 dB edge", Way::Down),
        })
    }
}
