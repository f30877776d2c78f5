//! A path with its plant, and which of its notches acts on which mode.

use super::Dip;
use crate::feedback::KeptLoop;
use crate::plant::Model;
use crate::response::Transfer;

/// A loop whose notches are known as such.
#[derive(Clone, Debug, PartialEq)]
pub struct WholeLoop {
    pub stages: Vec<PathStage>,
    pub model: Model,
    /// As in [`crate::feedback::OpenLoop`].
    pub sign: f64,
}

/// A stage as it is built.
#[derive(Clone, Debug, PartialEq)]
pub struct PathStage {
    pub transfer: Transfer,
    /// What it is asked for where it is a notch, so that it strays.
    pub notch: Option<Dip>,
}

impl WholeLoop {
    /// The same without knowing its notches.
    pub fn kept(&self) -> KeptLoop {
        KeptLoop {
            stages: self.stages.iter().map(|s| s.transfer.clone()).collect(),
            model: self.model.clone(),
            sign: self.sign,
        }
    }
}

/// The mode that a notch of this frequency (Hz) and Q acts on, of a plant whose modes' frequencies drift by this
/// fraction: the nearest, if the drift brings it to within the middle half of the notch's −3 dB width, where a full
/// notch takes 7 dB and more.
pub fn acts_on(model: &Model, drift: f64, frequency: f64, q: f64) -> Option<usize> {
    let modes = model.modes.iter().enumerate();
    let resonances = modes.filter(|(_, mode)| mode.is_resonance());
    let off = |f: f64| (f / frequency).ln().abs();
    let (place, mode) =
        resonances.min_by(|a, b| off(a.1.frequency).total_cmp(&off(b.1.frequency)))?;
    let apart = (mode.frequency - frequency).abs();
    (apart <= mode.frequency * drift + 0.25 * frequency / q).then_some(place)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Mode;

    #[test]
    fn a_notch_acts_on_its_own_mode_only() {
        let mode = |frequency| Mode {
            frequency,
            damping: 0.01,
            residue: 1.0,
            slope: 0.0,
        };
        let mut model = Model {
            modes: vec![mode(1900.0)],
            ..Model::default()
        };
        // 450 Hz away; drift 38 Hz, a quarter of the width 294 Hz at Q 2 and 588 Hz at Q 1.
        assert_eq!(acts_on(&model, 0.02, 2350.0, 2.0), None);
        assert_eq!(acts_on(&model, 0.02, 2350.0, 1.0), Some(0));
        model.modes.push(mode(2500.0));
        assert_eq!(acts_on(&model, 0.02, 2350.0, 1.0), Some(1));
        model.modes[1].damping = 0.6;
        assert_eq!(acts_on(&model, 0.02, 2350.0, 1.0), Some(0));
    }
}
