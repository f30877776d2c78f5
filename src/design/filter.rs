//! A filter asked as a whole, and the stages that make it.

use serde::{Deserialize, Serialize};

use crate::approx::{
    Approximation, Band, Designed, Family, PoleShape, Requirement, Section, ZeroShape, order,
    prototype, sections, transformed,
};
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, CATALOGUE, CornerAsk, NotchAsk, PairAsk, Stage, UnevenNotchAsk};

use super::StageDesign;

/// What is let through.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FilterBand {
    LowPass,
    HighPass,
    BandPass,
    BandStop,
}

/// A filter by its family and edges. It is not part of the path: its stages are, once they are put
/// there.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FilterDesign {
    pub family: Family,
    pub band: FilterBand,
    /// Pass edge, Hz; the lower one of a band.
    pub pass: f64,
    /// Upper pass edge of a band, Hz.
    pub pass_high: f64,
    /// Stop edge, Hz; the lower one of a band.
    pub stop: f64,
    /// Upper stop edge of a band, Hz.
    pub stop_high: f64,
    /// Loss allowed at the pass edges, dB.
    pub ripple_db: f64,
    /// Loss wanted at the stop edges, dB.
    pub stop_db: f64,
    /// Order of the low-pass that the filter is made from; none to find the least that does it.
    pub order: Option<u32>,
    /// Passband gain, a ratio.
    pub gain: f64,
    /// Whether gains are shared out so that every section's output peaks alike; else each section has
    /// the gain 1 where it passes.
    pub headroom: bool,
}

impl Default for FilterDesign {
    fn default() -> FilterDesign {
        FilterDesign {
            family: Family::Butterworth,
            band: FilterBand::LowPass,
            pass: 5e3,
            pass_high: 10e3,
            stop: 20e3,
            stop_high: 40e3,
            ripple_db: 1.0,
            stop_db: 40.0,
            order: None,
            gain: 1.0,
            headroom: false,
        }
    }
}

/// A filter worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct FilterPlan {
    pub designed: Designed,
    pub sections: Vec<Section>,
}

impl FilterDesign {
    fn bands(&self) -> (Band, Band) {
        match self.band {
            FilterBand::LowPass => (
                Band::LowPass { edge: self.pass },
                Band::LowPass { edge: self.stop },
            ),
            FilterBand::HighPass => (
                Band::HighPass { edge: self.pass },
                Band::HighPass { edge: self.stop },
            ),
            FilterBand::BandPass => (
                Band::BandPass {
                    low: self.pass,
                    high: self.pass_high,
                },
                Band::BandPass {
                    low: self.stop,
                    high: self.stop_high,
                },
            ),
            FilterBand::BandStop => (
                Band::BandStop {
                    low: self.pass,
                    high: self.pass_high,
                },
                Band::BandStop {
                    low: self.stop,
                    high: self.stop_high,
                },
            ),
        }
    }

    /// The order that does it, or the asked one, and the sections.
    ///
    /// # Errors
    /// A sentence, when edges, ripple and attenuation do not go together or need too high an order.
    pub fn plan(&self) -> Result<FilterPlan, String> {
        let (pass, stop) = self.bands();
        let designed = match self.order {
            Some(order) => Designed {
                approximation: self.family.with(self.ripple_db, self.stop_db),
                order: order as usize,
                // An inverse Chebyshev filter is designed at its stop edge.
                band: match self.family {
                    Family::InverseChebyshev => stop,
                    _ => pass,
                },
            },
            None => {
                let requirement = Requirement {
                    pass,
                    stop,
                    ripple_db: self.ripple_db,
                    stop_db: self.stop_db,
                };
                order(self.family, &requirement).map_err(|error| error.to_string())?
            }
        };
        let made = prototype(designed.approximation, designed.order)
            .and_then(|roots| transformed(&roots, designed.band))
            .and_then(|roots| sections(&roots, designed.band, self.gain))
            .map_err(|error| error.to_string())?;
        let sections = if self.headroom || self.band == FilterBand::BandPass {
            made
        } else {
            self.evened(made)
        };
        Ok(FilterPlan { designed, sections })
    }

    /// The same sections with gain 1 each where they pass, but for the filter's own gain in the first.
    /// The product is the same, since each passes at DC or far above.
    fn evened(&self, mut sections: Vec<Section>) -> Vec<Section> {
        let whole: f64 = sections.iter().map(|section| section.gain).product();
        let ratio = |section: &Section| match section.zeros {
            ZeroShape::Imaginary { frequency } => (frequency / section.frequency()).powi(2),
            _ => 1.0,
        };
        for section in &mut sections {
            section.gain = match self.band {
                FilterBand::LowPass => 1.0 / ratio(section),
                _ => 1.0,
            };
        }
        let now: f64 = sections.iter().map(|section| section.gain).product();
        if let Some(first) = sections.first_mut() {
            first.gain *= whole / now;
        }
        sections
    }
}

impl FilterPlan {
    /// The stages that make it, each the first of the catalogue that is within reach.
    ///
    /// # Errors
    /// A sentence, when the catalogue has no circuit for a section.
    pub fn stages(&self, shelf: &Shelf, op_amp: &OpAmp) -> Result<Vec<StageDesign>, String> {
        self.sections
            .iter()
            .map(|section| {
                let ask = ask_of(section);
                let circuit = circuit_for(&ask, shelf, op_amp).ok_or_else(|| {
                    format!(
                        "No circuit of the catalogue makes a section of this kind ({}).",
                        ask.family()
                    )
                })?;
                Ok(StageDesign {
                    circuit: circuit.id().to_owned(),
                    ask,
                    ..StageDesign::default()
                })
            })
            .collect()
    }

    /// What it is, in words.
    pub fn told(&self) -> String {
        let kind = match self.designed.approximation {
            Approximation::Butterworth => "Butterworth",
            Approximation::Chebyshev { .. } => "Chebyshev",
            Approximation::InverseChebyshev { .. } => "Inverse Chebyshev",
            Approximation::Elliptic { .. } => "Elliptic",
            Approximation::Bessel => "Bessel",
        };
        let doubled = matches!(
            self.designed.band,
            Band::BandPass { .. } | Band::BandStop { .. }
        );
        let order = self.designed.order * if doubled { 2 } else { 1 };
        let count = self.sections.len();
        let sections = if count == 1 { "section" } else { "sections" };
        format!("{kind}, order {order}: {count} {sections}")
    }
}

/// As a user would write it: far finer than parts can follow, and a product that is 1 reads as 1.
fn six_digits(value: f64) -> f64 {
    let scale = 10f64.powf(5.0 - value.abs().log10().floor());
    (value * scale).round() / scale
}

/// The ask that a section makes of a stage.
fn ask_of(section: &Section) -> Ask {
    let gain = six_digits(section.gain.abs());
    match (section.pole, section.zeros) {
        (PoleShape::Pair { frequency, q }, ZeroShape::Imaginary { frequency: null }) => {
            let ratio = null / frequency;
            let (null, frequency, q) = (six_digits(null), six_digits(frequency), six_digits(q));
            if (ratio - 1.0).abs() < 0.01 {
                Ask::Notch(NotchAsk {
                    frequency,
                    q,
                    ..NotchAsk::default()
                })
            } else {
                Ask::UnevenNotch(UnevenNotchAsk {
                    null,
                    frequency,
                    q,
                    gain: six_digits((section.gain * ratio * ratio).abs()),
                    ..UnevenNotchAsk::default()
                })
            }
        }
        (PoleShape::Pair { frequency, q }, zeros) => {
            let ask = PairAsk {
                frequency: six_digits(frequency),
                q: six_digits(q),
                gain,
                ..PairAsk::default()
            };
            match zeros {
                ZeroShape::Origin1 => Ask::BandPass(ask),
                ZeroShape::Origin2 => Ask::HighPass2(ask),
                _ => Ask::LowPass2(ask),
            }
        }
        (PoleShape::Real { frequency }, zeros) => {
            let ask = CornerAsk {
                frequency: six_digits(frequency),
                gain,
                ..CornerAsk::default()
            };
            match zeros {
                ZeroShape::None => Ask::LowPass1(ask),
                _ => Ask::HighPass1(ask),
            }
        }
    }
}

/// The first circuit of the catalogue that answers the ask and has nothing in its way.
fn circuit_for(ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Option<&'static dyn Stage> {
    let mut answers = CATALOGUE
        .iter()
        .copied()
        .filter(|stage| stage.default_ask().is_like(ask));
    let first = answers.clone().next();
    answers
        .find(|stage| stage.reach(ask, shelf, op_amp).is_empty())
        .or(first)
}
