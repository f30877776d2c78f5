//! What is asked of the loop as a whole.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::limits::LEVELS;
use super::{AdviceAsk, ShapeAsk};
use crate::plant::{Model, Settings};
use crate::quantity::to_digits;

/// A suspension this many times below the next mode lies within the loop's band.
const FAR: f64 = 8.0;

/// What the loop shall be as a whole, controller and notches found together.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WholeAsk {
    /// Hz.
    pub crossover: f64,
    /// Degrees.
    pub phase_margin: f64,
    /// The loop's gain over every mode's peak and drift must stay at or below this, dB.
    pub level_db: f64,
    /// The same for single modes, by their place among the model's, from 0.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub levels_db: BTreeMap<usize, f64>,
    /// The loop's gain must stay at or below this, dB, from the frequency below on.
    pub quiet_db: f64,
    /// Hz; none where no roll-off is wished.
    pub quiet_from: Option<f64>,
    pub form: WholeForm,
    /// A PID's integrator's corner over the crossover.
    pub integrator: f64,
    /// The roll-off's corner over the crossover, of a PID, a PD and a PI that has one.
    pub roll_off: f64,
    /// Largest relative deviation of a notch's frequency from board to board.
    pub notch_frequency: f64,
    /// Largest relative deviation of its Q from board to board.
    pub notch_q: f64,
}

/// Which controller is wanted of the loop as a whole.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WholeForm {
    /// The one that suits the plant.
    #[default]
    Automatic,
    Integrator,
    Pi,
    PiRollOff,
    Pd,
    Lead,
    Pid,
}

impl WholeAsk {
    /// Levels of single modes that are none: the place of each, and a sentence.
    pub(super) fn check(&self) -> Vec<(String, String)> {
        let levels = self.levels_db.iter();
        let told = levels.filter_map(|(mode, level)| {
            let number = mode.saturating_add(1);
            let most = Settings::MOST_MODES;
            let sentence = if *mode >= most {
                format!("A plant has {most} modes at most; there is no mode {number} whose peak could be limited.")
            } else if !(LEVELS.0..=LEVELS.1).contains(level) {
                format!("Peak of mode {number} must be from −60 dB to 20 dB.")
            } else {
                return None;
            };
            Some((format!("levels_db/{mode}"), sentence))
        });
        told.collect()
    }

    /// A first ask for a plant: its crossover at a fifth of the first resonance that limits it (common practice), in two
    /// digits. A suspension far below the next mode is none that limits.
    pub fn first(model: &Model) -> WholeAsk {
        let resonances = model.companies();
        let mut all = resonances
            .iter()
            .map(|company| model.modes[company[0]].frequency);
        let first = all.next();
        let limiting = match (first, all.next()) {
            (Some(own), Some(next)) if model.rigid.is_none() && next > FAR * own => Some(next),
            _ => first,
        };
        let usual = WholeAsk::default();
        WholeAsk {
            crossover: limiting.map_or(usual.crossover, |f| to_digits(f / 5.0, 2)),
            ..usual
        }
    }

    /// The level over a mode's peak, dB.
    pub fn level_db(&self, mode: usize) -> f64 {
        self.levels_db.get(&mode).copied().unwrap_or(self.level_db)
    }
}

impl Default for WholeAsk {
    fn default() -> WholeAsk {
        let (shape, advice) = (ShapeAsk::default(), AdviceAsk::default());
        WholeAsk {
            crossover: shape.crossover,
            phase_margin: shape.phase_margin,
            level_db: advice.level_db,
            levels_db: BTreeMap::new(),
            quiet_db: -20.0,
            quiet_from: None,
            form: WholeForm::Automatic,
            integrator: shape.integrator,
            roll_off: shape.roll_off,
            notch_frequency: advice.notch_frequency,
            notch_q: advice.notch_q,
        }
    }
}
