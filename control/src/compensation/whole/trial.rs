//! A controller of ideal parts, with its low-pass and its notches.

use super::dip::Dip;
use crate::compensation::{Controller, ControllerForm, LowPass};
use crate::response::Transfer;

/// What a trial comes to.
#[derive(Clone, Debug)]
pub(super) struct Trial {
    pub form: ControllerForm,
    /// Phase of the controller at the crossover, degrees.
    pub phase: f64,
    /// Phase margin, degrees.
    pub margin: f64,
    pub low_pass: Option<LowPass>,
    /// One a peak.
    pub dips: Vec<Option<Dip>>,
}

impl Trial {
    /// How many stages it takes, amplifiers aside.
    pub fn stages(&self) -> usize {
        1 + self.dips.iter().flatten().count() + usize::from(self.low_pass.is_some())
    }

    /// Everything but the plant and the other stages, scaled to 1 at the crossover (Hz).
    pub fn transfers(&self, crossover: f64) -> Vec<Transfer> {
        let mut all = vec![Controller::of(self.form, crossover, self.phase, 1.0).transfer()];
        all.extend(self.dips.iter().flatten().map(Dip::transfer));
        all.extend(self.low_pass.map(|low_pass| low_pass.transfer()));
        let taken: f64 = all.iter().map(|t| t.at(crossover).norm()).product();
        for coefficient in &mut all[0].num {
            *coefficient /= taken;
        }
        all
    }

    /// The highest gain above the crossover over that at the crossover.
    pub fn noise_gain(&self, crossover: f64) -> f64 {
        let all = self.transfers(crossover);
        let size = |f: f64| all.iter().map(|t| t.at(f).norm()).product::<f64>();
        let grid = crate::response::log_grid(crossover, crossover * 1e3, 60);
        grid.into_iter().map(size).fold(1.0, f64::max)
    }
}
