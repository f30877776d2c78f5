//! What the user says about a fit.

use serde::{Deserialize, Serialize};

use super::low_end::LowEnd;
use crate::plant::{Mode, Model};

/// What is wanted of a fit; by default everything is found from the sweep.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// Points below count nothing, Hz.
    pub from: Option<f64>,
    /// Points above count nothing, Hz.
    pub to: Option<f64>,
    /// What the plant does at low frequencies; found when `None`.
    pub low_end: Option<LowEnd>,
    /// Whether the plant has a delay, s.
    pub delay: Wish,
    /// Whether it has a lag, by its corner in Hz.
    pub lag: Wish,
    /// Most modes that are looked for, the suspension among them; 0 to [`Settings::MOST_MODES`].
    pub most_modes: usize,
    /// A model to start from. With it nothing is looked for: `low_end`, `delay`, `lag` and `most_modes` say
    /// nothing, and what is free in it is refined.
    pub start: Option<Start>,
}

/// Whether a fit has a delay, or a lag.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wish {
    /// If the sweep shows one.
    #[default]
    Found,
    /// Left out.
    Absent,
    /// Kept at this value: a delay in s, a lag's corner in Hz.
    Held(f64),
}

/// A model to start from, and what may move in it.
///
/// What enters linearly (gain, residues, slopes) and is free needs no value to start from. A mode that is
/// free and has residue 0 and slope 0 has a place that is only roughly known: it is looked for within a
/// tenth of its frequency.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Start {
    pub model: Model,
    pub free: Free,
}

/// What may move in a model, in the model's own order.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Free {
    /// The rigid part's gain; without a rigid part it says nothing.
    pub gain: bool,
    /// The corner of its friction; without friction it says nothing.
    #[serde(default = "yes")]
    pub friction: bool,
    /// One for each mode.
    pub modes: Vec<FreeMode>,
    /// Without a lag it says nothing.
    pub lag: bool,
    /// The delay, s.
    pub delay: bool,
}

/// What may move in a mode.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FreeMode {
    /// Its frequency.
    pub frequency: bool,
    /// Its damping ratio.
    pub damping: bool,
    /// Its residue.
    pub residue: bool,
    /// Its slope.
    pub slope: bool,
}

fn yes() -> bool {
    true
}

impl Settings {
    /// Most modes that can be asked for.
    pub const MOST_MODES: usize = 12;
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            from: None,
            to: None,
            low_end: None,
            delay: Wish::Found,
            lag: Wish::Found,
            most_modes: 8,
            start: None,
        }
    }
}

impl FreeMode {
    /// All but the slope.
    pub const USUAL: FreeMode = FreeMode {
        frequency: true,
        damping: true,
        residue: true,
        slope: false,
    };
}

impl Free {
    /// All of a model but slopes that are 0.
    pub fn usual(model: &Model) -> Free {
        let modes = model.modes.iter().map(|mode| FreeMode {
            slope: mode.slope != 0.0,
            ..FreeMode::USUAL
        });
        Free {
            gain: true,
            friction: true,
            modes: modes.collect(),
            lag: true,
            delay: true,
        }
    }
}

impl Start {
    /// A model of which everything may move, but slopes that are 0.
    pub fn of(model: Model) -> Start {
        let free = Free::usual(&model);
        Start { model, free }
    }

    /// Adds a mode about `frequency` (Hz, above 0), all free but its slope, and returns its index.
    pub fn add_mode(&mut self, frequency: f64) -> usize {
        let modes = &mut self.model.modes;
        let index = modes.iter().take_while(|m| m.frequency < frequency).count();
        let mode = Mode {
            frequency,
            damping: 0.01,
            residue: 0.0,
            slope: 0.0,
        };
        modes.insert(index, mode);
        let index_of_free = index.min(self.free.modes.len());
        self.free.modes.insert(index_of_free, FreeMode::USUAL);
        index
    }

    /// Takes a mode away; nothing happens where there is none of this index.
    pub fn remove_mode(&mut self, index: usize) {
        if index < self.model.modes.len() {
            self.model.modes.remove(index);
        }
        if index < self.free.modes.len() {
            self.free.modes.remove(index);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mode_is_added_in_its_place() {
        let mut start = Start::of(Model::default());
        assert_eq!(start.add_mode(100.0), 0);
        assert_eq!(start.add_mode(50.0), 0);
        assert_eq!(start.add_mode(70.0), 1);
        start.remove_mode(0);
        start.remove_mode(9);
        let left: Vec<f64> = start.model.modes.iter().map(|m| m.frequency).collect();
        assert_eq!(left, [70.0, 100.0]);
        assert_eq!(start.free.modes.len(), 2);
    }

    #[test]
    fn settings_are_read_with_defaults_and_nothing_unknown() {
        let read: Settings = serde_json::from_str(r#"{"lag":{"held":300.0}}"#).unwrap();
        assert_eq!(read.lag, Wish::Held(300.0));
        assert!(serde_json::from_str::<Settings>(r#"{"leg":"found"}"#).is_err());
    }
}
