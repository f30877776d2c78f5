//! The plant that the path drives, and what is asked of the loop round both.

use serde::{Deserialize, Serialize};

use super::{AdviceAsk, InputError, PlantUnits, ShapeAsk, WholeAsk};
use crate::feedback::MotionAsk;
use crate::json;
use crate::plant::shaft::Shaft;
use crate::plant::{Model, Settings, SweptOf, sweep};
use crate::spread::Law;
use crate::supply::{self, Supply};

/// The loop: measured plant, model, and what the loop must keep.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ServoDesign {
    /// The measured plant as [`sweep::write`] writes it; "" where none is.
    pub sweep: String,
    /// How many measured rows its points stand for, where these are more; see [`crate::plant::KeepWork`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<u32>,
    /// What was swept where the plant's points were worked out from it; nothing hangs on it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub swept_of: Option<SweptOf>,
    /// What goes into the plant and comes out of it.
    pub units: PlantUnits,
    /// How a model is fitted to it.
    pub fit: Settings,
    /// A model that is used as it stands, instead of a fitted one.
    pub model: Option<Model>,
    pub summing: Summing,
    pub asked: LoopAsk,
    pub drift: Drift,
    /// What the closed loop is moved by.
    pub motion: MotionAsk,
    /// A resonance on which advice is wanted.
    pub advice: Option<AdviceAsk>,
    /// A crossover and phase margin for which a controller is wanted.
    pub shape: Option<ShapeAsk>,
    /// Crossover, margin and quiet peaks for which controller and notches are wanted together.
    pub whole: Option<WholeAsk>,
    /// A shaft or a chain whose modes are worked out beside the measured ones.
    pub shaft: Option<Shaft>,
    /// Switching converters whose lines may fall on the plant's modes.
    pub supply: Option<Supply>,
}

/// How far plants stray from the model from unit to unit, largest relative deviations.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Drift {
    /// Of each mode's frequency, drawn for itself.
    pub frequency: f64,
    /// Of each mode's damping.
    pub damping: f64,
    /// Of the whole plant's gain.
    pub gain: f64,
    /// How plants lie within these, the normal law with the limits at three sigma.
    pub law: Law,
}

impl Default for Drift {
    fn default() -> Drift {
        Drift {
            frequency: 0.02,
            damping: 0.3,
            gain: 0.1,
            law: Law::Uniform,
        }
    }
}

/// What the summing point does with the feedback.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Summing {
    /// Error = reference − measured.
    #[default]
    Subtracts,
    /// Error = reference + measured: right where path and plant invert once in all.
    Adds,
}

impl Summing {
    /// The sign that it gives the loop.
    pub fn sign(self) -> f64 {
        match self {
            Summing::Subtracts => 1.0,
            Summing::Adds => -1.0,
        }
    }
}

/// What the loop must keep.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LoopAsk {
    /// Least phase margin, degrees.
    pub phase_margin: f64,
    /// Least gain margin, dB.
    pub gain_margin_db: f64,
    /// Largest |1/(1 + L)|, a ratio.
    pub sensitivity: f64,
    /// Longest settling after a step, within the motion's band, s; none where it does not matter.
    pub settling: Option<f64>,
    /// Where the rejection of disturbances is read, Hz.
    pub reject_at: f64,
}

impl Default for LoopAsk {
    fn default() -> LoopAsk {
        LoopAsk {
            phase_margin: 45.0,
            gain_margin_db: 6.0,
            sensitivity: 2.0,
            settling: None,
            reject_at: 50.0,
        }
    }
}

impl ServoDesign {
    /// Whether there is a plant, so that there is a loop.
    pub fn has_plant(&self) -> bool {
        !self.sweep.is_empty() || self.model.is_some()
    }

    /// How many points the sweep has, and its first and last frequency, Hz; none without a sweep.
    pub fn ends(&self) -> Option<(usize, f64, f64)> {
        let rows = || {
            self.sweep.lines().filter_map(|line| {
                let cell = line.split('\t').next()?.trim();
                json::is_number(cell).then_some(cell)
            })
        };
        let low = json::number(rows().next()?)?;
        let high = json::number(rows().next_back()?)?;
        Some((rows().count(), low, high))
    }

    /// What fields cannot see: the sweep as a whole, unless it is one that is known to be sound, and a model that
    /// is none.
    pub(super) fn check(&self, sound_sweep: Option<&str>) -> Vec<InputError> {
        let mut errors = Vec::new();
        let mut blame = |place: &str, message: String| {
            errors.push(InputError::new(&format!("/servo/{place}"), message));
        };
        if !self.sweep.is_empty() && sound_sweep != Some(&self.sweep) {
            let reading = sweep::read(&self.sweep, None);
            if let Some(error) = reading.error {
                blame("sweep", error);
            } else if let Some(bad) = reading.bad.first() {
                blame(
                    "sweep",
                    format!("Line {} of the sweep: {}", bad.line, bad.reason),
                );
            }
        }
        if let Err(sentence) = self.motion.check() {
            blame("motion", sentence);
        }
        for (place, sentence) in self
            .supply
            .iter()
            .flat_map(|s| supply::check(s).err())
            .flatten()
        {
            blame(&format!("supply/{place}"), sentence);
        }
        for (place, sentence) in self.whole.iter().flat_map(WholeAsk::check) {
            blame(&format!("whole/{place}"), sentence);
        }
        if let Some(model) = &self.model {
            if model.rigid.is_none() && model.modes.is_empty() {
                blame(
                    "model",
                    "The model has neither a rigid part nor a mode; give it one.".to_owned(),
                );
            }
            if model.rigid.is_some_and(|rigid| rigid.integrators > 2) {
                blame(
                    "model/rigid/integrators",
                    "The rigid part may have 0, 1 or 2 integrators.".to_owned(),
                );
            }
            if model
                .rigid
                .is_some_and(|rigid| rigid.integrators == 0 && rigid.friction.is_some())
            {
                blame(
                    "model/rigid/friction",
                    "The friction corner needs 1 or 2 integrators; remove it or give the plant one.".to_owned(),
                );
            }
        }
        errors
    }
}
