//! What goes into the plant and what comes out of it.

use serde::{Deserialize, Serialize};

/// Longest name of a unit, characters.
pub(super) const LONGEST: usize = 12;

/// Units as the user names them; "" where none is named. They are words beside numbers: nothing is converted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PlantUnits {
    /// Of what drives the plant: V, A.
    pub input: String,
    /// Of what is measured: µm, rad.
    pub output: String,
}

impl Default for PlantUnits {
    fn default() -> PlantUnits {
        PlantUnits {
            input: "V".to_owned(),
            output: String::new(),
        }
    }
}

impl PlantUnits {
    /// The plant's own unit, "µm/V"; "" where neither is named.
    pub fn ratio(&self) -> String {
        match (self.output.as_str(), self.input.as_str()) {
            ("", "") => String::new(),
            ("", input) => format!("1/{input}"),
            (output, "") => output.to_owned(),
            (output, input) => format!("{output}/{input}"),
        }
    }

    /// The plant's unit with a power of a rate behind it, "µm/V·(rad/s)²"; without units only the rate.
    pub fn ratio_times_rate(&self, power: u32) -> String {
        let rate = match power {
            0 => "",
            1 => "rad/s",
            _ => "(rad/s)²",
        };
        match (self.ratio(), rate) {
            (ratio, "") => ratio,
            (ratio, rate) if ratio.is_empty() => rate.to_owned(),
            (ratio, rate) => format!("{ratio}·{rate}"),
        }
    }

    /// The output's unit, over a power of a second: "µm/s²"; without a name "1/s²".
    pub fn output_per_second(&self, power: u32) -> String {
        let under = match power {
            0 => return self.output.clone(),
            1 => "s",
            _ => "s²",
        };
        if self.output.is_empty() {
            format!("1/{under}")
        } else {
            format!("{}/{under}", self.output)
        }
    }

    /// One unit of the output over a power of a second: "1 µm/s²"; without a name "1 per s²".
    pub fn one_per_second(&self, power: u32) -> String {
        let under = if power == 1 { "s" } else { "s²" };
        if self.output.is_empty() {
            format!("1 per {under}")
        } else {
            format!("1 {}/{under}", self.output)
        }
    }
}

/// A label with its unit: "Drive, V"; the label alone where there is none.
pub fn labelled(label: &str, unit: &str) -> String {
    if unit.is_empty() {
        label.to_owned()
    } else {
        format!("{label}, {unit}")
    }
}

/// A number with its unit behind it.
pub fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() {
        number
    } else {
        format!("{number} {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_put_together() {
        let units = PlantUnits {
            input: "A".into(),
            output: "µm".into(),
        };
        assert_eq!(units.ratio_times_rate(2), "µm/A·(rad/s)²");
        assert_eq!(units.output_per_second(2), "µm/s²");
        assert_eq!(units.one_per_second(1), "1 µm/s");
        let none = PlantUnits {
            input: String::new(),
            output: String::new(),
        };
        assert_eq!(
            (none.ratio().as_str(), none.ratio_times_rate(1).as_str()),
            ("", "rad/s")
        );
        assert_eq!(labelled("Drive", "V"), "Drive, V");
    }
}
