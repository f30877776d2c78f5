//! Second-order low-pass, high-pass and band-pass.

use serde::{Deserialize, Serialize};

use super::passband::POLE_FREQUENCIES;
use super::{Asked, Entry, Measured, Pass, Shape, Side};
use crate::quantity::Unit;
use crate::response::Way;

/// A pair of poles.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PairAsk {
    /// Natural frequency of the poles, Hz: the centre of a band-pass.
    pub frequency: f64,
    /// Their Q.
    pub q: f64,
    /// Passband gain, a ratio without its sign; at the centre for a band-pass.
    pub gain: f64,
    /// Frequencies may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for PairAsk {
    fn default() -> PairAsk {
        PairAsk {
            frequency: 5000.0,
            q: 0.707,
            gain: 1.0,
            frequency_limit: 0.05,
            q_limit: 0.1,
            gain_limit: 0.05,
        }
    }
}

impl Asked for (Pass, &PairAsk) {
    fn frequency(&self) -> f64 {
        self.1.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        let (name, help) = match self.0 {
            Pass::Band => ("Centre frequency", "Where the gain is highest."),
            _ => (
                "Pole frequency",
                "Natural frequency of the pole pair; the −3 dB corner where Q is 0.707.",
            ),
        };
        vec![
            Entry::frequency("frequency", name, help),
            Entry::ask(
                "q",
                "Q",
                Unit::One,
                (0.3, 200.0),
                "Q of the pole pair; a band-pass's centre frequency over its −3 dB width.",
            ),
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

impl Measured for (Pass, &PairAsk) {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        let (pass, ask) = *self;
        let (f, q) = (ask.frequency, ask.q);
        let shape = match pass {
            Pass::Low => Shape::new(0.0, ask.gain, ask.gain_limit, "Gain at DC"),
            Pass::Band => {
                Shape::new(f, ask.gain, ask.gain_limit, "Gain at the required centre").at_origin(1)
            }
            Pass::High => {
                let x = 1.0 / POLE_FREQUENCIES;
                let of = ask.gain / ((1.0 - x * x).powi(2) + (x / q).powi(2)).sqrt();
                let label = format!("Gain above, at {POLE_FREQUENCIES} pole frequencies");
                Shape::new(POLE_FREQUENCIES * f, of, ask.gain_limit, label).at_origin(2)
            }
        };
        let limits = (ask.frequency_limit, ask.q_limit);
        let shape = shape.pair(Side::Pole, ("pole-frequency", "q"), "Pole", (f, q), limits);
        Box::new(match pass {
            Pass::Low => shape.edge("edge-high", "−3 dB edge", Way::Up),
            Pass::High => shape.edge("edge-low", "−3 dB edge", Way::Down),
            Pass::Band => shape.edge("edge-low", "Lower −3 dB edge", Way::Down).edge(
                "edge-high",
                "Upper −3 dB edge",
                Way::Up,
            ),
        })
    }
}
