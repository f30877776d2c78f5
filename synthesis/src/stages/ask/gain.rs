//! Plain gain: proportional, summing, difference, follower.

use serde::{Deserialize, Serialize};

use super::{Asked, Entry, Measured, Shape};
use crate::quantity::Unit;
use crate::response::{Transfer, Way};
use crate::stages::yardstick::{Figure, Seen, Terms, Yardstick};

/// A gain up to a frequency.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct GainAsk {
    /// A ratio without its sign.
    pub gain: f64,
    /// Where the gain is read, Hz.
    pub frequency: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for GainAsk {
    fn default() -> GainAsk {
        GainAsk {
            gain: 4.7,
            frequency: 420.0,
            gain_limit: 0.05,
        }
    }
}

/// Gain 1, nothing else.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FollowerAsk {
    /// Where the gain is read, Hz.
    pub frequency: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for FollowerAsk {
    fn default() -> FollowerAsk {
        FollowerAsk {
            frequency: 420.0,
            gain_limit: 0.05,
        }
    }
}

/// The sum of two signals, each with its gain.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SumAsk {
    /// Gain of the path, a ratio without its sign.
    pub gain: f64,
    /// Gain of the second input, a ratio without its sign.
    pub second: f64,
    /// Where gains are read, Hz.
    pub frequency: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for SumAsk {
    fn default() -> SumAsk {
        SumAsk {
            gain: 1.0,
            second: 1.0,
            frequency: 420.0,
            gain_limit: 0.05,
        }
    }
}

/// The difference of two signals.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DifferenceAsk {
    /// Gain of the difference, a ratio.
    pub gain: f64,
    /// Where gain and rejection are read, Hz.
    pub frequency: f64,
    /// Least common-mode rejection, dB.
    pub least_rejection: f64,
    /// The gain may miss by this fraction, either way.
    pub gain_limit: f64,
}

impl Default for DifferenceAsk {
    fn default() -> DifferenceAsk {
        DifferenceAsk {
            gain: 1.0,
            frequency: 420.0,
            least_rejection: 34.0,
            gain_limit: 0.05,
        }
    }
}

fn read_at() -> Entry {
    Entry::frequency(
        "frequency",
        "Read at",
        "Where the gain is read: in the working band.",
    )
}

impl Asked for GainAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::gain("gain", "Gain", "Without its sign."),
            read_at(),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
        ]
    }
}

impl Measured for GainAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        Box::new(
            Shape::new(self.frequency, self.gain, self.gain_limit, "Gain").edge(
                "edge-high",
                "−3 dB edge",
                Way::Up,
            ),
        )
    }
}

impl Asked for FollowerAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            read_at(),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
        ]
    }
}

impl Measured for FollowerAsk {
    type Yardstick = Shape;

    fn yardstick(&self) -> Box<Shape> {
        Box::new(
            Shape::new(self.frequency, 1.0, self.gain_limit, "Gain").edge(
                "edge-high",
                "−3 dB edge",
                Way::Up,
            ),
        )
    }
}

impl Asked for SumAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::gain("gain", "Gain of the path", "Without its sign."),
            Entry::gain("second", "Gain of the second input", "Without its sign."),
            read_at(),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
        ]
    }
}

impl Measured for SumAsk {
    type Yardstick = SumYardstick;

    fn yardstick(&self) -> Box<SumYardstick> {
        let told = |name, label: &str, of: f64| {
            let db = 20.0 * of.log10();
            let ends =
                [-1.0, 1.0].map(|side: f64| db + 20.0 * (1.0 + side * self.gain_limit).log10());
            Figure::told(
                name,
                label,
                Unit::Decibel,
                "Magnitude at the required frequency.",
            )
            .wanted(db)
            .within(ends[0], ends[1])
        };
        Box::new(SumYardstick {
            ask: self.clone(),
            figures: [
                told("gain-db", "Gain of the path", self.gain),
                told("gain-2-db", "Gain of the second input", self.second),
            ],
            terms: Terms { groups: vec![1, 1] },
        })
    }
}

/// Two gains; the second input's response stands first among the others.
pub(super) struct SumYardstick {
    ask: SumAsk,
    figures: [Figure; 2],
    terms: Terms,
}

impl SumYardstick {
    fn gains(&self, seen: Seen) -> [f64; 2] {
        let second = seen.others.first();
        let at = |transfer: &Transfer| transfer.at(self.ask.frequency).norm();
        [at(seen.main), second.map_or(f64::NAN, at)]
    }
}

impl Yardstick for SumYardstick {
    fn figures(&self) -> &[Figure] {
        &self.figures
    }

    fn read(&self, seen: Seen, _: Option<&[f64]>, figures: &mut [f64]) {
        figures.copy_from_slice(&self.gains(seen).map(|gain| 20.0 * gain.log10()));
    }

    fn term_shape(&self) -> &Terms {
        &self.terms
    }

    fn terms(&self, seen: Seen, _: Option<&[f64]>, terms: &mut [f64]) {
        let [first, second] = self.gains(seen);
        terms[0] = (first / self.ask.gain - 1.0) / self.ask.gain_limit;
        terms[1] = (second / self.ask.second - 1.0) / self.ask.gain_limit;
    }

    fn goal(&self, sign: f64) -> Option<Transfer> {
        constant(sign * self.ask.gain, self.ask.frequency)
    }
}

impl Asked for DifferenceAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::gain("gain", "Gain of the difference", "Without its sign."),
            read_at(),
            Entry::limit(
                "gain_limit",
                "Gain ±",
                "A board with a larger deviation of the gain fails.",
            ),
            Entry::ask(
                "least_rejection",
                "Least rejection",
                Unit::Decibel,
                (6.0, 140.0),
                "Gain of the difference over gain of what both inputs share.",
            )
            .among_limits(),
        ]
    }
}

impl Measured for DifferenceAsk {
    type Yardstick = DifferenceYardstick;

    fn yardstick(&self) -> Box<DifferenceYardstick> {
        let db = 20.0 * self.gain.log10();
        let ends = [-1.0, 1.0].map(|side: f64| db + 20.0 * (1.0 + side * self.gain_limit).log10());
        Box::new(DifferenceYardstick {
            ask: self.clone(),
            figures: [
                Figure::told("gain-db", "Gain of the difference", Unit::Decibel, "Magnitude at the required frequency.").wanted(db).within(ends[0], ends[1]),
                Figure::told("rejection-db", "Common-mode rejection", Unit::Decibel, "Gain of the difference over gain of what both inputs share, at the required frequency.").at_least(self.least_rejection),
            ],
            terms: Terms { groups: vec![1, 2] },
        })
    }
}

/// Gain and common-mode rejection; the response to the subtracted input stands first among the
/// others.
pub(super) struct DifferenceYardstick {
    ask: DifferenceAsk,
    figures: [Figure; 2],
    terms: Terms,
}

impl DifferenceYardstick {
    /// Gain of the difference and of what is common.
    fn gains(&self, seen: Seen) -> [num_complex::Complex64; 2] {
        let plus = seen.main.at(self.ask.frequency);
        let minus = seen
            .others
            .first()
            .map_or(plus, |other| other.at(self.ask.frequency));
        [(plus - minus) * 0.5, plus + minus]
    }
}

impl Yardstick for DifferenceYardstick {
    fn figures(&self) -> &[Figure] {
        &self.figures
    }

    fn read(&self, seen: Seen, _: Option<&[f64]>, figures: &mut [f64]) {
        let [difference, common] = self.gains(seen).map(|gain| gain.norm());
        figures[0] = 20.0 * difference.log10();
        // Where nothing of it comes through, as with exact parts and an ideal op amp, a number is still wanted.
        figures[1] = 20.0 * (difference / common.max(1e-15 * difference)).log10();
    }

    fn term_shape(&self) -> &Terms {
        &self.terms
    }

    fn terms(&self, seen: Seen, _: Option<&[f64]>, terms: &mut [f64]) {
        let [difference, common] = self.gains(seen);
        terms[0] = (difference.norm() / self.ask.gain - 1.0) / self.ask.gain_limit;
        let over = common / difference.norm() * 10f64.powf(self.ask.least_rejection / 20.0);
        (terms[1], terms[2]) = (over.re, over.im);
    }

    fn goal(&self, sign: f64) -> Option<Transfer> {
        constant(sign * self.ask.gain, self.ask.frequency)
    }
}

fn constant(gain: f64, frequency: f64) -> Option<Transfer> {
    Some(Transfer {
        num: vec![gain],
        den: vec![1.0],
        omega: std::f64::consts::TAU * frequency,
    })
}
