//! What goes into the plant and what comes out of it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::quantity::{Unit, rounded, to_digits};

/// Units as the user names them; "" where none is named. They are words beside numbers: nothing is converted.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
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

/// Units of an answer's numbers, by the names that the numbers have there: what a script needs to label them.
pub type NumberUnits = BTreeMap<String, String>;

impl PlantUnits {
    /// Longest name of a unit, characters.
    pub const LONGEST: usize = 12;

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

    /// What 0 dB of the plant is, "re 1 µm/V"; "" where nobody named the output, as 0 dB is a bare 1 then.
    ///
    /// A level's reference stands with its name and not with the decibel (IEC 60027-3, from memory).
    pub fn reference(&self) -> String {
        if self.output.is_empty() {
            String::new()
        } else {
            format!("re 1 {}", self.ratio())
        }
    }

    /// The unit of a gain of the plant in decibels: "dB re 1 µm/V", or "dB".
    pub fn decibels(&self) -> String {
        match self.reference() {
            none if none.is_empty() => "dB".to_owned(),
            reference => format!("dB {reference}"),
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

    /// Units of the numbers of a plant and its model.
    pub fn of_plant(&self) -> NumberUnits {
        let ratio = self.ratio();
        let gain = match ratio.as_str() {
            "" => "(rad/s)ⁿ, n its integrators".to_owned(),
            ratio => format!("{ratio}·(rad/s)ⁿ, n its integrators"),
        };
        named([
            (&["gain"], gain),
            (&["residue"], self.ratio_times_rate(2)),
            (&["slope"], self.ratio_times_rate(1)),
            (&["height"], ratio),
            (&["magnitude_db"], self.decibels()),
        ])
    }

    /// Units of the numbers of a closed loop in time.
    pub fn of_motion(&self) -> NumberUnits {
        const POSITIONS: &[&str] = &[
            "disturbance_error",
            "error",
            "last_error",
            "parabola_error",
            "peak_error",
            "position",
            "ramp_error",
            "reference",
            "rms_error",
            "steady_error",
            "step_error",
        ];
        named([
            (POSITIONS, self.output.clone()),
            (&["drive", "drive_peak"], self.input.clone()),
        ])
    }

    /// Units of what noise does round the loop; densities are over √Hz.
    pub fn of_noise(&self) -> NumberUnits {
        named([
            (&["drive_rms"], self.input.clone()),
            (&["position_rms"], self.output.clone()),
        ])
    }

    /// Units of what comes of a supply's line.
    pub fn of_passage(&self) -> NumberUnits {
        named([(&["plant_db", "rank_db", "through_db"], self.decibels())])
    }
}

/// The same unit for several numbers; what has none is left out.
fn named<const N: usize>(kinds: [(&[&str], String); N]) -> NumberUnits {
    let kinds = kinds.into_iter().filter(|(_, unit)| !unit.is_empty());
    let all = kinds.flat_map(|(names, unit)| {
        let one = move |name: &&str| ((*name).to_owned(), unit.clone());
        names.iter().map(one).collect::<Vec<_>>()
    });
    all.collect()
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

/// Units that take a prefix as they stand.
const PREFIXED: [&str; 11] = [
    "V", "A", "m", "rad", "N", "Nm", "N·m", "W", "Pa", "T", "m/s",
];

/// A small or a large number to `digits` with its unit behind it: with a prefix where the unit takes one, and else with a
/// power of ten where the number is very small.
pub fn in_unit(value: f64, unit: &str, digits: usize) -> String {
    let as_volts = rounded(value, Unit::Volt, digits);
    match as_volts.strip_suffix('V') {
        Some(number) if PREFIXED.contains(&unit) => format!("{number}{unit}"),
        _ if value != 0.0 && value.abs() < 1e-3 => {
            with_unit(format!("{:e}", to_digits(value, digits)), unit)
        }
        _ => with_unit(rounded(value, Unit::One, digits), unit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_numbers_have_a_prefix_or_a_power() {
        for (value, unit, text) in [
            (4.25e-4, "V", "425 µV"),
            (2.9e-6, "rad", "2.9 µrad"),
            (2.9e-6, "", "2.9e-6"),
            (2.9e-6, "µm", "2.9e-6 µm"),
            (0.125, "mm", "0.125 mm"),
            (0.0, "", "0"),
        ] {
            assert_eq!(in_unit(value, unit, 3), text);
        }
    }

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
        assert_eq!(
            (units.decibels().as_str(), none.decibels().as_str()),
            ("dB re 1 µm/A", "dB")
        );
        // The input has a unit by default, which alone is no reference.
        assert_eq!(PlantUnits::default().reference(), "");
        assert_eq!(units.of_motion()["peak_error"], "µm");
        assert!(none.of_motion().is_empty());
    }
}
