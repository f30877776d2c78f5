//! What is to be kept quiet, and how far everything strays.

use crate::feedback::range::{OutOfRange, frequency_share, is_within, share};
use crate::feedback::{OpenLoop, PlantVariations};
use crate::plant::{Model, Plant};

/// A resonance and the level below which the loop's gain must stay over its peak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NotchWish {
    /// Place of the resonance among the model's modes, from 0.
    pub mode: usize,
    /// How far plants stray: this mode's frequency and damping, and the whole gain. Other modes stay.
    pub variations: PlantVariations,
    /// Largest relative deviation of the notch's frequency from unit to unit, 0 to below 1.
    pub notch_frequency: f64,
    /// Of its Q, 0 to below 1.
    pub notch_q: f64,
    /// |L| over the peak must stay at or below this ratio; see [`NotchWish::level_of`].
    pub level: f64,
    /// Where the notch's phase is counted, Hz; none to find the loop's own crossover.
    pub crossover: Option<f64>,
    /// Phase margin that must be left at the crossover, degrees.
    pub phase_margin: f64,
    /// Largest |1/(1 + L)| over the peak where it is kept by its phase instead.
    pub sensitivity: f64,
}

/// Why nothing can be advised; a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AdviceError {
    #[error("The plant is a sweep, which has no modes that could drift; fit a model to it.")]
    Sweep,
    #[error("The model has no mode {0}; it has {1}.")]
    NoMode(usize, usize),
    #[error("Mode {0} has no peak that could be kept down: {1}.")]
    NoPeak(usize, String),
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    #[error(
        "The loop's gain nowhere falls through 1, so that there is no crossover at which a notch could cost \
         phase; give one."
    )]
    NoCrossover,
    #[error("The loop has no finite gain near mode {0}; look at its stages and at the model.")]
    NotFinite(usize),
}

impl NotchWish {
    /// The level that leaves a gain margin in dB, whatever the phase.
    pub fn level_of(gain_margin_db: f64) -> f64 {
        10f64.powf(-gain_margin_db / 20.0)
    }

    /// The model in the loop, if all numbers are in range.
    pub(super) fn check<'a>(&self, open: &OpenLoop<'a>) -> Result<&'a Model, AdviceError> {
        let Plant::Model(model) = open.plant else {
            return Err(AdviceError::Sweep);
        };
        let place = self.mode.saturating_add(1);
        let Some(mode) = model.modes.get(self.mode) else {
            return Err(AdviceError::NoMode(place, model.modes.len()));
        };
        let positive = |x: f64| x > 0.0 && x.is_finite();
        if !positive(mode.frequency) || !positive(mode.damping) || mode.damping >= 1.0 {
            let why = "its frequency must be above 0, and its damping above 0 and below 1";
            return Err(AdviceError::NoPeak(place, why.to_owned()));
        }
        frequency_share("Drift of the mode's frequency", self.variations.frequency)?;
        share("Drift of the mode's damping", self.variations.damping)?;
        share("Drift of the plant's gain", self.variations.gain)?;
        frequency_share("Tolerance of the notch frequency", self.notch_frequency)?;
        share("Tolerance of the notch Q", self.notch_q)?;
        let numbers = [
            ("Level over the peak", self.level),
            ("Crossover", self.crossover.unwrap_or(1.0)),
            ("Sensitivity", self.sensitivity),
        ];
        for (name, value) in numbers {
            is_within(name, positive(value), "a number above 0", value)?;
        }
        let (name, words) = ("Phase margin", "a number of degrees");
        is_within(
            name,
            self.phase_margin.is_finite(),
            words,
            self.phase_margin,
        )?;
        Ok(model)
    }
}
