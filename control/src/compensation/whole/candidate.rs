//! A controller with its notches or its low-pass, and which of two is better.

use super::RunnerUp;
use super::reading::decibels;
use super::setting::Way;
use super::trial::Trial;

/// A form with its notches or its low-pass.
#[derive(Clone)]
pub(super) struct Candidate {
    pub way: Way,
    pub trial: Trial,
    /// Whether the wished margin is there.
    pub reached: bool,
    /// Whether there is more, and the form has no less phase to give.
    pub is_more: bool,
    pub stages: usize,
    /// As a ratio.
    pub noise_gain: f64,
    pub is_sound: bool,
    /// Whether parts were tried and did not hold the wish.
    pub failed: bool,
}

/// No error at rest is worth so much more noise gain, a ratio.
const WORTH: f64 = 3.2;
impl Candidate {
    /// Lower is better.
    pub fn order(&self, other: &Candidate) -> std::cmp::Ordering {
        let worse = |c: &Candidate| (!c.reached, !c.is_sound, c.is_more, c.stages);
        // A controller that leaves an error counts as if it were that much noisier.
        let noise = |c: &Candidate| {
            c.noise_gain
                * if c.trial.form.integrates() {
                    1.0
                } else {
                    WORTH
                }
        };
        let margin = |c: &Candidate| if c.reached { 0.0 } else { -c.trial.margin };
        (worse(self).0, worse(self).1)
            .cmp(&(worse(other).0, worse(other).1))
            .then(margin(self).total_cmp(&margin(other)))
            .then((worse(self).2, worse(self).3).cmp(&(worse(other).2, worse(other).3)))
            .then(noise(self).total_cmp(&noise(other)))
    }

    /// In short.
    pub fn runner_up(&self) -> RunnerUp {
        RunnerUp {
            form: self.trial.form.name().to_owned(),
            low_pass: self.trial.low_pass.map(|low_pass| low_pass.order),
            phase_margin: self.trial.margin,
            stages: self.stages,
            noise_gain_db: decibels(self.noise_gain),
            holds: self.reached && self.is_sound && !self.failed,
            failed: self.failed,
        }
    }
}
