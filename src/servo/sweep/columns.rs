//! What the columns of a text are.

use std::fmt;

use serde::{Deserialize, Serialize};

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
    pub response: Response,
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
    Hertz,
    Kilohertz,
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

/// The two columns that make the response.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
}

impl Columns {
    /// Whether the three columns are three.
    ///
    /// # Errors
    /// A sentence that names the two that are the same.
    pub fn check(&self) -> Result<(), String> {
        let [first, second] = self.response.columns();
        let [one, two] = self.response.names();
        let pairs = [
            (("frequency", self.frequency), (one, first)),
            (("frequency", self.frequency), (two, second)),
            ((one, first), (two, second)),
        ];
        match pairs.iter().find(|(a, b)| a.1 == b.1) {
            Some((a, b)) => Err(format!(
                "The {} and the {} cannot both be column {}.",
                a.0,
                b.0,
                a.1.saturating_add(1)
            )),
            None => Ok(()),
        }
    }

    /// The columns of frequency and response, in that order.
    pub(super) fn needed(&self) -> [usize; 3] {
        let [first, second] = self.response.columns();
        [self.frequency, first, second]
    }
}

impl Response {
    /// The two columns.
    pub(super) fn columns(&self) -> [usize; 2] {
        match *self {
            Response::Polar {
                magnitude, phase, ..
            } => [magnitude, phase],
            Response::Cartesian { real, imaginary } => [real, imaginary],
        }
    }

    /// What the two columns hold.
    pub(super) fn names(&self) -> [&'static str; 2] {
        match self {
            Response::Polar { .. } => ["magnitude", "phase"],
            Response::Cartesian { .. } => ["real part", "imaginary part"],
        }
    }
}

impl FrequencyUnit {
    /// Hertz in one of the unit.
    pub fn hertz(self) -> f64 {
        match self {
            FrequencyUnit::Hertz => 1.0,
            FrequencyUnit::Kilohertz => 1e3,
            FrequencyUnit::RadiansPerSecond => std::f64::consts::TAU.recip(),
        }
    }
}

impl fmt::Display for FrequencyUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            FrequencyUnit::Hertz => "Hz",
            FrequencyUnit::Kilohertz => "kHz",
            FrequencyUnit::RadiansPerSecond => "rad/s",
        })
    }
}

impl fmt::Display for Columns {
    /// "Column 1: frequency in Hz; column 2: magnitude in dB; column 3: phase in degrees".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let units = match self.response {
            Response::Polar {
                magnitude_unit,
                phase_unit,
                ..
            } => [
                match magnitude_unit {
                    MagnitudeUnit::Decibels => " in dB",
                    MagnitudeUnit::Ratio => " as a ratio",
                },
                match phase_unit {
                    PhaseUnit::Degrees => " in degrees",
                    PhaseUnit::Radians => " in radians",
                },
            ],
            Response::Cartesian { .. } => ["", ""],
        };
        let [frequency, first, second] = self.needed().map(|column| column.saturating_add(1));
        let [one, two] = self.response.names();
        write!(
            f,
            "Column {frequency}: frequency in {}; column {first}: {one}{}; column {second}: {two}{}",
            self.frequency_unit, units[0], units[1]
        )
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
