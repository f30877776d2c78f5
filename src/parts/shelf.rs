//! The shelf: which values can be bought, and how far they stray.

use serde::{Deserialize, Serialize};

use super::Series;

/// One kind of part on the shelf: a stretch of a series, or a list of the values at hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Bin {
    pub series: Series,
    /// Lowest value bought, SI.
    pub lowest: f64,
    /// Highest value bought, SI.
    pub highest: f64,
    /// When present, exactly these values (SI) are at hand, and the series is not used.
    pub list: Option<Vec<f64>>,
    /// Largest relative deviation as delivered; `0.01` is ±1 %.
    pub tolerance: f64,
    /// Largest relative change per kelvin, either sign; `50e-6` is ±50 ppm/K.
    pub tempco: f64,
}

impl Bin {
    /// Values that can be bought, rising and without repeats.
    pub fn values(&self) -> Vec<f64> {
        match &self.list {
            Some(list) => {
                let mut values = list.clone();
                values.sort_by(f64::total_cmp);
                values.dedup();
                values
            }
            None => self.series.between(self.lowest, self.highest),
        }
    }

    /// The default resistors: E96, 1 %, 100 Ω to 1 MΩ, 50 ppm/K.
    pub fn resistors() -> Bin {
        Bin {
            series: Series::E96,
            lowest: 100.0,
            highest: 1e6,
            list: None,
            tolerance: 0.01,
            tempco: 50e-6,
        }
    }

    /// The default capacitors: E6, 5 %, 100 pF to 100 nF, 30 ppm/K (class 1 ceramic).
    pub fn capacitors() -> Bin {
        Bin {
            series: Series::E6,
            lowest: 100e-12,
            highest: 100e-9,
            list: None,
            tolerance: 0.05,
            tempco: 30e-6,
        }
    }
}

impl Default for Bin {
    fn default() -> Bin {
        Bin::resistors()
    }
}

/// What shall count for most among sets whose boards do equally well.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Preference {
    /// All in their usual proportion.
    #[default]
    Balanced,
    /// As few different values as can be.
    FewValues,
    /// Resistors near 10 kΩ, capacitors near 4.7 nF, and both close together.
    CalmImpedance,
    /// Figures in the middle of their limits.
    Centred,
}

/// Everything that can be bought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Shelf {
    pub resistors: Bin,
    pub capacitors: Bin,
    /// How a set is chosen among those that do as well.
    pub prefer: Preference,
}

impl Default for Shelf {
    fn default() -> Shelf {
        Shelf {
            resistors: Bin::resistors(),
            capacitors: Bin::capacitors(),
            prefer: Preference::Balanced,
        }
    }
}
