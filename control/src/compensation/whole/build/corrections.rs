//! What real parts took in the rounds before, asked for on top in the next.

use super::plan::Plan;
use crate::compensation::shaping::attempt::Made;
use crate::compensation::whole::Reading;
use crate::compensation::whole::ground::Ground;

/// Levels are asked for so much lower where real parts left too much, as a ratio.
const HAIR: f64 = 0.99;

/// From round to round.
pub(super) struct Corrections {
    /// What each peak's level is multiplied by.
    pub tighter: Vec<f64>,
    /// Asked for on top of the margin, degrees.
    pub made_up: f64,
    /// Passband gain of each peak's notch as it was last bought.
    pub passband: Vec<f64>,
}

impl Corrections {
    /// Nothing is known of real parts yet.
    pub fn none(peaks: usize) -> Corrections {
        Corrections {
            tighter: vec![1.0; peaks],
            made_up: 0.0,
            passband: vec![1.0; peaks],
        }
    }

    /// What was taken in the end: degrees of phase, and of levels, as a ratio.
    pub fn reserve(&self) -> (f64, f64) {
        let lowest = self.tighter.iter().copied().fold(1.0, f64::min);
        (self.made_up.max(0.0), lowest)
    }

    /// Takes what is off into the next round.
    pub fn learn(&mut self, ground: &Ground, plan: &Plan, made: &Made, reading: &Reading) {
        for peak in &reading.peaks {
            let place = ground.peaks.iter().position(|p| p.mode == peak.mode);
            let over = peak.worst_db - peak.level_db;
            if let Some(place) = place
                && over > 0.0
            {
                self.tighter[place] *= 10f64.powf(-over / 20.0) * HAIR;
            }
        }
        for (want, bought) in plan.pairs() {
            let passband = bought.transfer.at(0.0).norm();
            if let Some(peak) = want.peak
                && passband.is_normal()
            {
                self.passband[peak] = passband.clamp(0.1, 1.0);
            }
        }
        // Parts that miss their own ask say nothing of what real ones take.
        if made.miss > 1.0 {
            return;
        }
        // An ideal loop with the phase that the controller was asked for would have so much more margin.
        let trial = &plan.trial;
        if trial.form.turns() && made.phase_margin.is_finite() {
            let ideal = trial.margin + made.asked_phase - trial.phase;
            self.made_up = (ideal - made.phase_margin).clamp(-10.0, 40.0);
        }
    }
}
