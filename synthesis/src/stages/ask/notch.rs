//! The notch: quiet one frequency, leave the rest alone.
//!
//! Everything is read against the gain at DC, the passband's: else a set that quiets every frequency would pass for
//! a notch.

use std::f64::consts::FRAC_1_SQRT_2;

use num_complex::Complex64;
use serde::{Deserialize, Deserializer, Serialize};

use super::{Asked, Entry, Measured};
use crate::quantity::Unit;
use crate::response::{self, Crossings, Transfer, Way};
use crate::stages::yardstick::{Figure, Seen, Terms, Yardstick};

/// How deep a notch is wanted at its deepest point.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Depth {
    /// So many decibels below the gain at DC, no more and no less.
    Decibel(f64),
    /// As deep as parts allow (JSON `null`).
    FullNull(()),
}

impl<'de> Deserialize<'de> for Depth {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Depth, D::Error> {
        let decibel = Option::deserialize(deserializer)?;
        Ok(decibel.map_or(Depth::FullNull(()), Depth::Decibel))
    }
}

impl Depth {
    /// |H| wanted at the deepest point, over that at DC.
    pub fn gain(self) -> f64 {
        match self {
            Depth::Decibel(db) => 10f64.powf(-db / 20.0),
            Depth::FullNull(()) => 0.0,
        }
    }
}

/// A notch: quiet one frequency, leave the rest alone.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NotchAsk {
    /// Frequency of the deepest point, Hz.
    pub frequency: f64,
    /// Notch frequency over the width between the −3 dB edges.
    pub q: f64,
    /// Depth at the deepest point.
    pub depth: Depth,
    /// The frequency may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// Attenuation at the asked frequency must be at least this, dB below the gain at DC.
    pub least_depth: f64,
}

impl Default for NotchAsk {
    /// The demo: the first structural mode of an invented microscope focus stage.
    fn default() -> NotchAsk {
        NotchAsk {
            frequency: 2350.0,
            q: 2.0,
            depth: Depth::FullNull(()),
            frequency_limit: 0.05,
            q_limit: 0.1,
            least_depth: 18.0,
        }
    }
}

impl NotchAsk {
    /// Q of the poles that make the asked −3 dB width: a notch that is not complete has its edges wider apart than
    /// its poles say, Q = pole Q/√(1 − 2d²) for a gain of d at the deepest point.
    pub fn pole_q(&self) -> f64 {
        let shallow = self.depth.gain();
        self.q * (1.0 - 2.0 * shallow * shallow).max(1e-3).sqrt()
    }
}

impl Asked for NotchAsk {
    fn frequency(&self) -> f64 {
        self.frequency
    }

    fn entries(&self) -> Vec<Entry> {
        vec![
            Entry::frequency(
                "frequency",
                "Notch frequency",
                "Where the curve shall be deepest.",
            ),
            Entry::ask(
                "q",
                "Q",
                Unit::One,
                (0.1, 200.0),
                "Notch frequency over the width between the −3 dB edges.",
            ),
            Entry::ask(
                "depth",
                "Depth",
                Unit::Decibel,
                (6.0, 120.0),
                "Attenuation at the deepest point, below the gain at DC; empty for a full null.",
            )
            .or_empty("full null"),
            Entry {
                highest: 0.5,
                ..Entry::limit(
                    "frequency_limit",
                    "Frequency ±",
                    "A board with a larger deviation of the notch frequency fails.",
                )
            },
            Entry::limit("q_limit", "Q ±", "A board with a larger deviation of the Q fails."),
            Entry::ask(
                "least_depth",
                "Least attenuation",
                Unit::Decibel,
                (3.5, 120.0),
                "Least attenuation at the required frequency itself on every good board, below the gain at DC.",
            )
            .among_limits(),
        ]
    }

    fn conflicts(&self) -> Vec<(&'static str, String)> {
        match self.depth {
            Depth::Decibel(depth) if depth <= self.least_depth => vec![(
                "least_depth",
                format!(
                    "Least attenuation must stay below the required depth of {depth} dB, or no board could vary."
                ),
            )],
            _ => Vec::new(),
        }
    }
}

impl Measured for NotchAsk {
    type Yardstick = NotchYardstick;

    fn yardstick(&self) -> Box<NotchYardstick> {
        Box::new(NotchYardstick {
            figures: figures(self),
            most: 10f64.powf(-self.least_depth / 20.0),
            wanted: self.depth.gain(),
            ask: self.clone(),
            terms: Terms {
                groups: vec![1, 1, 2],
            },
        })
    }
}

const FREQUENCY: usize = 0;
const DEPTH: usize = 1;
const ASK_ATTENUATION: usize = 2;
const EDGE_LOW: usize = 3;
const EDGE_HIGH: usize = 4;
const Q: usize = 5;
const GAIN_LOW: usize = 6;
const GAIN_HIGH: usize = 7;

/// The passband is read at DC and this far above the asked frequency.
const FAR: f64 = 100.0;
/// How far from where it is known the deepest point is looked for first, as a ratio.
const NEAR: f64 = 1.2;
/// How far from the ask it is looked for, as a ratio.
const SEARCH: f64 = 8.0;

fn figures(ask: &NotchAsk) -> Vec<Figure> {
    let around = |value: f64, limit: f64| (value * (1.0 - limit), value * (1.0 + limit));
    let (low, high) = around(ask.frequency, ask.frequency_limit);
    let (q_low, q_high) = around(ask.q, ask.q_limit);
    let depth = Figure::told(
        "depth-db",
        "Depth",
        Unit::Decibel,
        "Attenuation at the deepest point, below the gain at DC.",
    );
    vec![
        Figure::told(
            "notch-frequency",
            "Notch frequency",
            Unit::Hertz,
            "Where the magnitude curve is deepest.",
        )
        .wanted(ask.frequency)
        .within(low, high),
        match ask.depth {
            Depth::Decibel(db) => depth.wanted(db),
            Depth::FullNull(()) => depth,
        },
        Figure::told(
            "ask-attenuation-db",
            "Attenuation at the required frequency",
            Unit::Decibel,
            "Attenuation at the required frequency itself, below the gain at DC.",
        )
        .at_least(ask.least_depth),
        Figure::told(
            "edge-low",
            "Lower −3 dB edge",
            Unit::Hertz,
            "Below the notch, where the gain is 1/√2 of that at DC.",
        ),
        Figure::told(
            "edge-high",
            "Upper −3 dB edge",
            Unit::Hertz,
            "Above the notch, where the gain is 1/√2 of that at DC.",
        ),
        Figure::told(
            "q",
            "Q",
            Unit::One,
            "Notch frequency over the width between the −3 dB edges.",
        )
        .wanted(ask.q)
        .within(q_low, q_high),
        Figure::told(
            "gain-low-db",
            "Gain below",
            Unit::Decibel,
            "Passband gain at DC.",
        ),
        Figure::told(
            "gain-high-db",
            "Gain above",
            Unit::Decibel,
            "Gain two decades above the required frequency, where the op amp's gain may already fall.",
        ),
    ]
}

pub(super) struct NotchYardstick {
    ask: NotchAsk,
    /// The largest gain at the asked frequency and the wanted one at the deepest point, over that at DC.
    most: f64,
    wanted: f64,
    figures: Vec<Figure>,
    terms: Terms,
}

impl NotchYardstick {
    /// Where the deepest point and both edges are, Hz; NaN where there is none.
    fn landmarks(&self, transfer: &Transfer, hint: Option<&[f64]>) -> (f64, f64, f64) {
        const NONE: f64 = f64::NAN;
        let known = |figure: usize| hint.map(|near| near[figure]).filter(|f| f.is_finite());
        let asked = self.ask.frequency;
        let wide = (asked / SEARCH, asked * SEARCH);
        let deepest = known(FREQUENCY)
            .and_then(|near| response::deepest_near(transfer, near, NEAR))
            .or_else(|| response::deepest(transfer, wide, 48));
        let Some(deepest) = deepest else {
            return (NONE, NONE, NONE);
        };
        let level = transfer.at(0.0).re.abs() * FRAC_1_SQRT_2;
        if transfer.at(deepest).norm_sqr() >= level * level {
            return (deepest, NONE, NONE);
        }
        let crossings = Crossings::new(transfer, level);
        let edge = |way: Way, figure: usize| {
            let near = hint.map(|near| near[figure]);
            crossings.first(deepest, way, near).unwrap_or(NONE)
        };
        (deepest, edge(Way::Down, EDGE_LOW), edge(Way::Up, EDGE_HIGH))
    }

    /// Frequency; Q; and the complex gain at the asked frequency, whose distance from the wanted one is smooth where
    /// a depth in decibels is not.
    fn terms_of(&self, transfer: &Transfer, landmarks: (f64, f64, f64), terms: &mut [f64]) {
        let ask = &self.ask;
        let (f0, low, high) = landmarks;
        let q = f0 / (high - low);
        terms[0] = (f0 / ask.frequency - 1.0) / ask.frequency_limit;
        terms[1] = (q / ask.q - 1.0) / ask.q_limit;
        let miss = self.attenuation_miss(transfer);
        (terms[2], terms[3]) = (miss.re, miss.im);
    }

    fn attenuation_miss(&self, transfer: &Transfer) -> Complex64 {
        let found = transfer.at(self.ask.frequency) / (transfer.at(0.0).re * self.most);
        disc_miss(found, self.wanted / self.most)
    }
}

impl Yardstick for NotchYardstick {
    fn figures(&self) -> &[Figure] {
        &self.figures
    }

    fn read(&self, seen: Seen, hint: Option<&[f64]>, figures: &mut [f64]) {
        let transfer = seen.main;
        let (f0, low, high) = self.landmarks(transfer, hint);
        figures[FREQUENCY] = f0;
        let passband = transfer.magnitude_db(0.0);
        figures[DEPTH] = passband - transfer.magnitude_db(f0);
        figures[ASK_ATTENUATION] = passband - transfer.magnitude_db(self.ask.frequency);
        figures[EDGE_LOW] = low;
        figures[EDGE_HIGH] = high;
        figures[Q] = f0 / (high - low);
        figures[GAIN_LOW] = passband;
        figures[GAIN_HIGH] = transfer.magnitude_db(self.ask.frequency * FAR);
    }

    fn term_shape(&self) -> &Terms {
        &self.terms
    }

    fn terms(&self, seen: Seen, hint: Option<&[f64]>, terms: &mut [f64]) {
        let landmarks = self.landmarks(seen.main, hint);
        self.terms_of(seen.main, landmarks, terms);
    }

    fn least_miss(&self, seen: Seen) -> f64 {
        self.attenuation_miss(seen.main).norm()
    }

    fn terms_and_hints(
        &self,
        seen: Seen,
        hint: Option<&[f64]>,
        terms: &mut [f64],
        hints: &mut [f64],
    ) {
        let landmarks = self.landmarks(seen.main, hint);
        self.terms_of(seen.main, landmarks, terms);
        hints.fill(f64::NAN);
        (hints[FREQUENCY], hints[EDGE_LOW], hints[EDGE_HIGH]) = landmarks;
    }

    /// A notch's passband gain is the circuit's, so the ask alone says no response.
    fn goal(&self, _: f64) -> Option<Transfer> {
        None
    }
}

/// How far a number is from the wanted one, `wanted` (0 to below 1), in units of a limit that is the unit circle round
/// 0 and not round it: 0 at the wanted one, of size 1 exactly on the circle, below inside and above outside.
///
/// On the circle |z − a|² = 1 + a² − 2a·Re z. Off it Re z is taken as 2·Re z/(1 + |z|²), which is the same on the
/// circle and never beyond ±1, so that the quotient is smooth everywhere; it compares with 1 as |z|² does, since
/// |z − a|² less the divisor is (|z|² − 1)·(1 − 2a·Re z/(1 + |z|²)).
fn disc_miss(z: Complex64, wanted: f64) -> Complex64 {
    let re = 2.0 * z.re / (1.0 + z.norm_sqr());
    (z - wanted) / (1.0 + wanted * wanted - 2.0 * wanted * re).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn a_disc_is_a_disc(size in 0.0f64..5.0, angle in 0.0f64..6.3, wanted in 0.0f64..0.999) {
            let miss = |size: f64| disc_miss(Complex64::from_polar(size, angle), wanted).norm();
            proptest::prop_assert!((miss(1.0) - 1.0).abs() < 1e-9);
            let apart = (size - 1.0).abs() > 1e-6;
            proptest::prop_assert!(!apart || (size < 1.0) == (miss(size) < 1.0), "{}", miss(size));
            proptest::prop_assert_eq!(disc_miss(wanted.into(), wanted).norm(), 0.0);
        }
    }
}
