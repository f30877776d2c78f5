//! What the columns of a text are.

use std::fmt;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::tagged;

/// How a text is to be read. Columns count from 0 here, and from 1 in every sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Columns {
    pub separator: Separator,
    /// Whether numbers are written `1,5` and not `1.5`.
    pub decimal_comma: bool,
    /// Lines before the first row, blank ones and comments included.
    pub header: usize,
    /// The frequency's column.
    pub frequency: usize,
    pub frequency_unit: FrequencyUnit,
    #[serde(with = "crate::tagged")]
    pub response: Response,
    /// The column that tells how much a row counts, if there is one.
    #[serde(default)]
    pub weight: Option<WeightColumn>,
}

/// A column that tells how much each row counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeightColumn {
    pub column: usize,
    pub kind: WeightKind,
}

/// What such a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WeightKind {
    /// The coherence γ² between input and output, above 0 and 1 at most.
    Coherence,
    /// The weight itself, above 0: [`super::Point::weight`].
    Weight,
}

/// What stands between two cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Separator {
    Tab,
    Semicolon,
    Bar,
    /// With or without blanks beside it.
    Comma,
    /// Any run of blanks and tabs. With decimal commas a cell may end in one more comma: `1,5, 2,3`.
    Blanks,
}

/// The unit of the frequencies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FrequencyUnit {
    Millihertz,
    Hertz,
    Kilohertz,
    Megahertz,
    Gigahertz,
    RadiansPerSecond,
}

/// The unit of the magnitudes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MagnitudeUnit {
    /// 20·lg of the ratio.
    Decibels,
    /// Output over input, 0 or more.
    Ratio,
}

/// The unit of the phases, wrapped or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PhaseUnit {
    Degrees,
    Radians,
}

/// The columns that make the response.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "form", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Response {
    Polar {
        magnitude: usize,
        magnitude_unit: MagnitudeUnit,
        phase: usize,
        phase_unit: PhaseUnit,
    },
    Cartesian {
        real: usize,
        imaginary: usize,
    },
    /// Complex numbers in one column: `1+2j`, `(1-2i)`.
    Complex {
        column: usize,
    },
    /// Magnitudes whose phase was not measured.
    Magnitude {
        magnitude: usize,
        magnitude_unit: MagnitudeUnit,
    },
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "Response", rename_all = "kebab-case", deny_unknown_fields)]
enum Outside {
    Polar {
        magnitude: usize,
        magnitude_unit: MagnitudeUnit,
        phase: usize,
        phase_unit: PhaseUnit,
    },
    Cartesian {
        real: usize,
        imaginary: usize,
    },
    Complex {
        column: usize,
    },
    Magnitude {
        magnitude: usize,
        magnitude_unit: MagnitudeUnit,
    },
}

impl<'de> Deserialize<'de> for Response {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Response, D::Error> {
        let tree = tagged::outside(deserializer, "form")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

impl Columns {
    /// Whether no column is taken twice.
    ///
    /// # Errors
    /// A sentence that names the two that are the same.
    pub fn check(&self) -> Result<(), String> {
        let needed = self.needed();
        let pairs = needed
            .iter()
            .enumerate()
            .flat_map(|(at, a)| needed[at + 1..].iter().map(move |b| (a, b)));
        match pairs.into_iter().find(|(a, b)| a.column == b.column) {
            Some((a, b)) => Err(format!(
                "The {} and the {} cannot both be column {}.",
                a.name,
                b.name,
                a.column.saturating_add(1)
            )),
            None => Ok(()),
        }
    }

    /// Whether they tell the phase of the response.
    pub fn has_phase(&self) -> bool {
        !matches!(self.response, Response::Magnitude { .. })
    }

    /// Whether a column is one of those that are read.
    pub fn takes(&self, column: usize) -> bool {
        self.needed().iter().any(|needed| needed.column == column)
    }

    /// The columns of frequency, response and weight, in that order.
    pub(super) fn needed(&self) -> Vec<Needed> {
        let mut needed = vec![Needed {
            column: self.frequency,
            name: "frequency",
        }];
        needed.extend(self.response.needed());
        needed.extend(self.weight.map(|weight| Needed {
            column: weight.column,
            name: weight.kind.name(),
        }));
        needed
    }
}

/// A column with what it holds.
pub(super) struct Needed {
    pub column: usize,
    pub name: &'static str,
}

impl Response {
    /// Its one or two columns.
    fn needed(&self) -> Vec<Needed> {
        let needed = |column, name| Needed { column, name };
        match *self {
            Response::Polar {
                magnitude, phase, ..
            } => vec![needed(magnitude, "magnitude"), needed(phase, "phase")],
            Response::Cartesian { real, imaginary } => vec![
                needed(real, "real part"),
                needed(imaginary, "imaginary part"),
            ],
            Response::Complex { column } => vec![needed(column, "response")],
            Response::Magnitude { magnitude, .. } => vec![needed(magnitude, "magnitude")],
        }
    }
}

impl WeightKind {
    fn name(self) -> &'static str {
        match self {
            WeightKind::Coherence => "coherence",
            WeightKind::Weight => "weight",
        }
    }
}

impl FrequencyUnit {
    /// Hertz in one of the unit.
    pub fn hertz(self) -> f64 {
        match self {
            FrequencyUnit::Millihertz => 1e-3,
            FrequencyUnit::Hertz => 1.0,
            FrequencyUnit::Kilohertz => 1e3,
            FrequencyUnit::Megahertz => 1e6,
            FrequencyUnit::Gigahertz => 1e9,
            FrequencyUnit::RadiansPerSecond => std::f64::consts::TAU.recip(),
        }
    }
}

impl fmt::Display for FrequencyUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            FrequencyUnit::Millihertz => "mHz",
            FrequencyUnit::Hertz => "Hz",
            FrequencyUnit::Kilohertz => "kHz",
            FrequencyUnit::Megahertz => "MHz",
            FrequencyUnit::Gigahertz => "GHz",
            FrequencyUnit::RadiansPerSecond => "rad/s",
        })
    }
}

impl fmt::Display for Columns {
    /// "Column 1: frequency in Hz; column 2: magnitude in dB; column 3: phase in degrees".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, Needed { column, name }) in self.needed().iter().enumerate() {
            let (begin, column) = (
                if at == 0 { "Column" } else { "; column" },
                column.saturating_add(1),
            );
            write!(f, "{begin} {column}: {name}")?;
            match (self.response, at) {
                (_, 0) => write!(f, " in {}", self.frequency_unit)?,
                (
                    Response::Polar { magnitude_unit, .. }
                    | Response::Magnitude { magnitude_unit, .. },
                    1,
                ) => {
                    f.write_str(match magnitude_unit {
                        MagnitudeUnit::Decibels => " in dB",
                        MagnitudeUnit::Ratio => " as a ratio",
                    })?;
                }
                (Response::Polar { phase_unit, .. }, 2) => f.write_str(match phase_unit {
                    PhaseUnit::Degrees => " in degrees",
                    PhaseUnit::Radians => " in radians",
                })?,
                (Response::Complex { .. }, 1) => f.write_str(" as complex numbers")?,
                _ => {}
            }
        }
        Ok(())
    }
}

impl Default for Columns {
    /// Tabs, a decimal point, no header; frequency in Hz, magnitude in dB, phase in degrees.
    fn default() -> Columns {
        Columns {
            separator: Separator::Tab,
            decimal_comma: false,
            header: 0,
            frequency: 0,
            frequency_unit: FrequencyUnit::Hertz,
            response: Response::Polar {
                magnitude: 1,
                magnitude_unit: MagnitudeUnit::Decibels,
                phase: 2,
                phase_unit: PhaseUnit::Degrees,
            },
            weight: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_tell_what_they_are() {
        assert_eq!(
            Columns::default().to_string(),
            "Column 1: frequency in Hz; column 2: magnitude in dB; column 3: phase in degrees"
        );
        let twice = Columns {
            frequency: 2,
            ..Columns::default()
        };
        assert_eq!(
            twice.check().unwrap_err(),
            "The frequency and the phase cannot both be column 3."
        );
    }
}
