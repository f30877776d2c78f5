//! Where a mode rings.

use serde::{Deserialize, Serialize};

use crate::plant::Model;

/// From where to where one mode rings, over all units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ModeBand {
    /// Its place among the model's modes, from 0.
    pub mode: usize,
    /// Of the model's own mode, Hz.
    pub frequency: f64,
    /// Where the mode's frequency itself lies from unit to unit, Hz.
    pub drift: (f64, f64),
    /// The same with a half-width at half power, ζ·f, to each side, Hz.
    pub range: (f64, f64),
}

/// The bands of all resonances; `drift` is the largest relative deviation of a mode's frequency from
/// unit to unit, 0 to below 1.
pub fn bands(model: &Model, drift: f64) -> Vec<ModeBand> {
    let modes = model.modes.iter().enumerate();
    modes
        .filter(|(_, mode)| mode.is_resonance())
        .map(|(place, mode)| {
            let (low, high) = (
                mode.frequency * (1.0 - drift),
                mode.frequency * (1.0 + drift),
            );
            ModeBand {
                mode: place,
                frequency: mode.frequency,
                drift: (low, high),
                range: (low * (1.0 - mode.damping), high * (1.0 + mode.damping)),
            }
        })
        .collect()
}
