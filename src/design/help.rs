//! What help is asked for: a notch for a resonance, or a controller.

use serde::{Deserialize, Serialize};

/// A resonance to be kept quiet.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AdviceAsk {
    /// Its place among the model's modes, from 0.
    pub mode: usize,
    /// The loop's gain over the peak must stay below this, dB.
    pub level_db: f64,
    /// Largest relative deviation of the notch's frequency from board to board.
    pub notch_frequency: f64,
    /// Largest relative deviation of its Q from board to board.
    pub notch_q: f64,
}

/// What the loop shall be with a controller in it.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ShapeAsk {
    pub form: ShapeForm,
    /// Hz.
    pub crossover: f64,
    /// Degrees.
    pub phase_margin: f64,
    /// A PID's integrator's corner over the crossover.
    pub integrator: f64,
    /// A PID's roll-off's corner over the crossover.
    pub roll_off: f64,
}

/// Which controller is wanted.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShapeForm {
    #[default]
    Pid,
    /// By itself: without an integrator, and level above its pole.
    Lead,
}

impl Default for AdviceAsk {
    fn default() -> AdviceAsk {
        AdviceAsk {
            mode: 1,
            level_db: -6.0,
            notch_frequency: 0.04,
            notch_q: 0.08,
        }
    }
}

impl Default for ShapeAsk {
    fn default() -> ShapeAsk {
        ShapeAsk {
            form: ShapeForm::Pid,
            crossover: 420.0,
            phase_margin: 50.0,
            integrator: 0.1,
            roll_off: 10.0,
        }
    }
}
