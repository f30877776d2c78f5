//! What the whole loop shall be.

use crate::compensation::ControllerForm;
use crate::compensation::shaping::check_corners;
use crate::feedback::PlantVariations;
use crate::feedback::range::{OutOfRange, frequency, frequency_share, share, within};
use crate::plant::Model;

/// Crossover, phase margin, quiet peaks and roll-off, all at once.
#[derive(Clone, Debug, PartialEq)]
pub struct WholeWish {
    /// Where |L| shall be 1, Hz, 1 µHz to 1 THz.
    pub crossover: f64,
    /// 180° + arg L there, degrees, above 0 and below 180.
    pub phase_margin: f64,
    /// |L| over each mode's peak and whole drift at or below this ratio; one a mode of the model.
    pub levels: Vec<f64>,
    /// |L| from a frequency on.
    pub roll_off: Option<RollOff>,
    pub form: WishedForm,
    /// How far plants stray.
    pub variations: PlantVariations,
    /// Largest relative deviation of a notch's frequency from unit to unit, 0 to 0.5.
    pub notch_frequency: f64,
    /// Of its Q, 0 to 0.95.
    pub notch_q: f64,
}

/// |L| at or below `level` (a ratio) from `from` (Hz) on, on the plant as marked with its highest gain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RollOff {
    pub level: f64,
    pub from: f64,
}

/// Which controller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WishedForm {
    /// The one that suits the plant, with these corners over the crossover where it has such.
    Automatic {
        /// From 0.001 to 1.
        integrator: f64,
        /// From 1 to 1000.
        roll_off: f64,
    },
    This(ControllerForm),
}

/// Why nothing can be worked out; a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WholeError {
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    #[error(
        "The loop without the controller has no gain at the target crossover that could be brought to 1; look at its \
         stages and at the model."
    )]
    NoGain,
    #[error("The loop has no finite gain near mode {0}; look at its stages and at the model.")]
    NotFinite(usize),
    #[error("Mode {0} has no sound numbers: its frequency and its damping must be above 0.")]
    Mode(usize),
}

impl WholeWish {
    /// Whether all numbers are in range.
    pub(super) fn check(&self, model: &Model) -> Result<(), WholeError> {
        frequency("Crossover", self.crossover)?;
        within(
            "Phase margin",
            (1e-3, 179.9),
            "above 0° and below 180°",
            self.phase_margin,
        )?;
        for level in &self.levels {
            within(
                "Level over a peak",
                (1e-6, 1e6),
                "a ratio from 1e-6 to 1e6",
                *level,
            )?;
        }
        if let Some(roll_off) = self.roll_off {
            within(
                "Roll-off's level",
                (1e-9, 1e6),
                "a ratio from 1e-9 to 1e6",
                roll_off.level,
            )?;
            frequency("Roll-off's frequency", roll_off.from)?;
        }
        frequency_share("Drift of modes' frequencies", self.variations.frequency)?;
        share("Drift of modes' dampings", self.variations.damping)?;
        share("Drift of the plant's gain", self.variations.gain)?;
        frequency_share("Tolerance of a notch frequency", self.notch_frequency)?;
        share("Tolerance of a notch Q", self.notch_q)?;
        self.check_form()?;
        for (place, mode) in model.modes.iter().enumerate() {
            let positive = |x: f64| x > 0.0 && x.is_finite();
            let is_sound = positive(mode.frequency) && positive(mode.damping);
            if !(is_sound && mode.residue.is_finite() && mode.slope.is_finite()) {
                return Err(WholeError::Mode(place + 1));
            }
        }
        Ok(())
    }

    /// Whether the controller's corners are in range.
    fn check_form(&self) -> Result<(), OutOfRange> {
        let (integrator, roll_off) = match self.form {
            WishedForm::Automatic {
                integrator,
                roll_off,
            }
            | WishedForm::This(ControllerForm::Pid {
                integrator,
                roll_off,
            }) => (integrator, roll_off),
            WishedForm::This(
                ControllerForm::PiRollOff { roll_off } | ControllerForm::Pd { roll_off },
            ) => (1.0, roll_off),
            WishedForm::This(_) => (1.0, 1.0),
        };
        check_corners(integrator, roll_off)
    }

    /// The level over a mode's peak, a ratio: what is asked of it, or of all from the roll-off on where that is
    /// less.
    pub(super) fn level(&self, mode: usize, range: (f64, f64)) -> f64 {
        let own = self.levels.get(mode).copied().unwrap_or(1.0);
        match self.roll_off {
            Some(roll_off) if range.1 > roll_off.from => own.min(roll_off.level),
            _ => own,
        }
    }
}
