//! The shelf: which values can be bought, and how far they stray.
//!
//! What a text leaves out of a bin is as by default for that kind of part: a capacitor's bin never takes a
//! resistor's values. So each kind is read in its own way, and a bin as such has no default.

use serde::{Deserialize, Deserializer, Serialize};

use super::Series;
use crate::circuit::Kind;

/// One kind of part on the shelf: a stretch of a series, or a list of the values at hand.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize)]
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

    /// Whether the same values can be bought with the same tolerance, however they drift: what picks hang on.
    pub fn sells_the_same(&self, other: &Bin) -> bool {
        let undrifting = |bin: &Bin| Bin {
            tempco: 0.0,
            ..bin.clone()
        };
        undrifting(self) == undrifting(other)
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

/// What a text says of a bin.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Given {
    #[serde(deserialize_with = "said")]
    series: Option<Series>,
    #[serde(deserialize_with = "said")]
    lowest: Option<f64>,
    #[serde(deserialize_with = "said")]
    highest: Option<f64>,
    #[serde(deserialize_with = "said")]
    list: Option<Option<Vec<f64>>>,
    #[serde(deserialize_with = "said")]
    tolerance: Option<f64>,
    #[serde(deserialize_with = "said")]
    tempco: Option<f64>,
}

/// A value that is there: `null` is none.
fn said<'de, D: Deserializer<'de>, T: Deserialize<'de>>(from: D) -> Result<Option<T>, D::Error> {
    T::deserialize(from).map(Some)
}

impl Given {
    /// The rest is as in `usual`.
    fn or(self, usual: Bin) -> Bin {
        Bin {
            series: self.series.unwrap_or(usual.series),
            lowest: self.lowest.unwrap_or(usual.lowest),
            highest: self.highest.unwrap_or(usual.highest),
            list: self.list.unwrap_or(usual.list),
            tolerance: self.tolerance.unwrap_or(usual.tolerance),
            tempco: self.tempco.unwrap_or(usual.tempco),
        }
    }
}

fn resistors<'de, D: Deserializer<'de>>(from: D) -> Result<Bin, D::Error> {
    Given::deserialize(from).map(|given| given.or(Bin::resistors()))
}

fn capacitors<'de, D: Deserializer<'de>>(from: D) -> Result<Bin, D::Error> {
    Given::deserialize(from).map(|given| given.or(Bin::capacitors()))
}

/// Everything that can be bought.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Shelf {
    #[serde(deserialize_with = "resistors")]
    pub resistors: Bin,
    #[serde(deserialize_with = "capacitors")]
    pub capacitors: Bin,
}

impl Shelf {
    /// Where such a part lies; nowhere for an op amp.
    pub fn bin(&self, kind: Kind) -> Option<&Bin> {
        match kind {
            Kind::Resistor { .. } => Some(&self.resistors),
            Kind::Capacitor { .. } => Some(&self.capacitors),
            Kind::OpAmp { .. } => None,
        }
    }
}

impl Default for Shelf {
    fn default() -> Shelf {
        Shelf {
            resistors: Bin::resistors(),
            capacitors: Bin::capacitors(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    /// Every bin with every set of its fields left out: what is given is taken, the rest is that kind's default,
    /// merged here as JSON (RFC 7396).
    #[test]
    fn what_is_left_out_is_as_by_default_for_its_kind() {
        let given = json!({
            "series": "E3", "lowest": 2e-9, "highest": 3e-9, "list": [2.5e-9], "tolerance": 0.2, "tempco": 1e-3
        });
        let names: Vec<&String> = given.as_object().expect("an object").keys().collect();
        for kind in ["resistors", "capacitors"] {
            for mask in 0..1 << names.len() {
                let mut bin = json!({});
                let mut expected = serde_json::to_value(Shelf::default()).expect("JSON");
                for (at, &name) in names.iter().enumerate() {
                    if mask >> at & 1 == 1 {
                        bin[name] = given[name].clone();
                        expected[kind][name] = given[name].clone();
                    }
                }
                let mut tree = json!({});
                tree[kind] = bin;
                let shelf: Shelf = serde_json::from_value(tree.clone()).expect("a shelf");
                let found = serde_json::to_value(&shelf).expect("JSON");
                assert_eq!(found, expected, "{tree}");
            }
        }
    }

    #[test]
    fn what_does_not_belong_there_is_refused() {
        for (name, value) in [("colour", json!(1)), ("lowest", Value::Null)] {
            let mut tree = json!({"capacitors": {}});
            tree["capacitors"][name] = value;
            assert!(serde_json::from_value::<Shelf>(tree).is_err(), "{name}");
        }
    }
}
