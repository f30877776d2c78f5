//! What sets the loop in motion, and how it is judged.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::quantity::{Unit, exact};
use crate::tagged;

use super::Trajectory;

/// One question put to the closed loop.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MotionAsk {
    pub stimulus: Stimulus,
    /// Size of the stimulus, in the unit that it names; from 1e-15 to 1e15.
    pub amplitude: f64,
    /// Largest drive that the plant's amplifier can give, above 0 and in the unit of its input; none where it does not matter.
    pub saturation: Option<f64>,
    /// The band of settling as a fraction, from 1e-6 to 0.5.
    pub settle_band: f64,
    /// How long is looked at, seconds; none lets the loop decide.
    pub span: Option<f64>,
}

/// What moves the loop, from rest at t = 0.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Stimulus {
    /// The reference jumps by the amplitude.
    #[default]
    Step,
    /// The reference runs at the amplitude per second.
    Ramp,
    /// The reference is accelerated by the amplitude per second²: `½·amplitude·t²`.
    Parabola,
    /// The reference follows a user's own rows, times the amplitude.
    Trajectory { trajectory: Trajectory },
    /// A step of the amplitude is added to the drive at the plant's input; the reference rests at 0.
    Disturbance,
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "Stimulus", rename_all = "kebab-case", deny_unknown_fields)]
enum Outside {
    Step {},
    Ramp {},
    Parabola {},
    Trajectory { trajectory: Trajectory },
    Disturbance {},
}

impl<'de> Deserialize<'de> for Stimulus {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Stimulus, D::Error> {
        let tree = tagged::outside(deserializer, "kind")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

impl Default for MotionAsk {
    /// A unit step, settled within 2 %.
    fn default() -> MotionAsk {
        MotionAsk {
            stimulus: Stimulus::Step,
            amplitude: 1.0,
            saturation: None,
            settle_band: 0.02,
            span: None,
        }
    }
}

impl MotionAsk {
    /// Sizes of a stimulus, of either sign.
    pub const AMPLITUDES: (f64, f64) = (1e-15, 1e15);
    /// Bands of settling, as fractions.
    pub const SETTLE_BANDS: (f64, f64) = (1e-6, 0.5);
    /// Durations, s.
    pub const SPANS: (f64, f64) = (1e-9, 1e9);

    /// Whether it can be answered at all.
    ///
    /// # Errors
    /// A sentence that names the entry.
    pub fn check(&self) -> Result<(), String> {
        let is_in = |(low, high): (f64, f64), value: f64| (low..=high).contains(&value);
        let must = |what: &str, (low, high): (f64, f64), unit| {
            let (low, high) = (exact(low, unit), exact(high, unit));
            Err(format!("{what} must lie between {low} and {high}."))
        };
        if !is_in(MotionAsk::AMPLITUDES, self.amplitude) {
            return must("The amplitude", MotionAsk::AMPLITUDES, Unit::One);
        }
        if !is_in(MotionAsk::SETTLE_BANDS, self.settle_band) {
            return must("The settling band", MotionAsk::SETTLE_BANDS, Unit::Percent);
        }
        let positive = |value: Option<f64>| value.is_none_or(|v| v.is_finite() && v > 0.0);
        if !positive(self.saturation) {
            return Err("The limit of the drive must lie above 0.".to_owned());
        }
        if self.span.is_some_and(|span| !is_in(MotionAsk::SPANS, span)) {
            return must("The duration", MotionAsk::SPANS, Unit::Second);
        }
        match &self.stimulus {
            Stimulus::Trajectory { trajectory } => trajectory.check(),
            _ => Ok(()),
        }
    }
}

impl Stimulus {
    /// The power of 1/s that the stimulus is in Laplace's plane; a trajectory is taken for a step.
    pub(super) fn order(&self) -> i32 {
        match self {
            Stimulus::Ramp => 2,
            Stimulus::Parabola => 3,
            _ => 1,
        }
    }

    /// The reference at a time of 0 or more, for an amplitude of 1 and counted from where it rests.
    pub(super) fn reference(&self, t: f64) -> f64 {
        match self {
            Stimulus::Step => 1.0,
            Stimulus::Ramp => t,
            Stimulus::Parabola => 0.5 * t * t,
            Stimulus::Trajectory { trajectory } => {
                trajectory.at(t + trajectory.start()) - trajectory.first()
            }
            Stimulus::Disturbance => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ask_reads_back_and_says_what_is_wrong() {
        let ask = MotionAsk {
            stimulus: Stimulus::Ramp,
            ..MotionAsk::default()
        };
        let text = serde_json::to_string(&ask).expect("plain data");
        assert_eq!(
            serde_json::from_str::<MotionAsk>(&text).expect("its own"),
            ask
        );
        assert!(serde_json::from_str::<MotionAsk>(r#"{"speed": 1}"#).is_err());
        let wrong = MotionAsk {
            amplitude: f64::NAN,
            ..ask
        };
        assert!(wrong.check().unwrap_err().starts_with("The amplitude"));
    }
}
