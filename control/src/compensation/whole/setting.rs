//! What a trial is made for: its givens, and what they make of a controller, a low-pass and notches.

use super::dip::Dip;
use super::ground::{Aimed, Ground};
use super::trial::Trial;
use crate::compensation::{Controller, ControllerForm, LowPass};
use crate::response::Transfer;

/// How a low-pass helps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// Not at all.
    None,
    /// Instead of notches, of this order.
    Alone(u32),
    /// Beside notches: its order, and its corner over the crossover.
    Beside(u32, f64),
}

/// Levels a hair lower than asked, for what lies between the grid's points.
const HAIR: f64 = 0.996;

/// A trial's givens.
pub(super) struct Setting<'a> {
    pub ground: &'a Ground,
    pub aimed: &'a Aimed,
    pub form: ControllerForm,
    pub way: Way,
    /// What each peak's level is multiplied by, for what real parts leave more.
    pub tighter: &'a [f64],
}

impl Setting<'_> {
    /// Each peak over its level with the controller alone, whose phase is given; and the controller.
    pub(super) fn bare(&self, phase: f64) -> (Vec<Vec<(f64, f64)>>, Transfer) {
        let controller = Controller::of(self.form, self.aimed.crossover, phase, 1.0).transfer();
        let bare = self.levels_over(&|f| controller.at(f).norm() * self.aimed.gain);
        (bare, controller)
    }

    /// The same with a low-pass in the loop.
    pub(super) fn pass(&self, low_pass: Option<&LowPass>, bare: &mut [Vec<(f64, f64)>]) {
        let Some(low_pass) = low_pass else { return };
        let transfer = low_pass.transfer();
        let taken = transfer.at(self.aimed.crossover).norm();
        for (f, size) in bare.iter_mut().flatten() {
            *size *= transfer.at(*f).norm() / taken;
        }
    }

    /// What these parts of a loop come to.
    pub(super) fn trial(
        &self,
        phase: f64,
        low_pass: Option<LowPass>,
        dips: Vec<Option<Dip>>,
    ) -> Trial {
        let Aimed {
            crossover, needed, ..
        } = *self.aimed;
        let passed = low_pass.map(|low_pass| low_pass.transfer().at(crossover).arg().to_degrees());
        let cost: f64 = dips.iter().flatten().map(|dip| dip.cost(crossover)).sum();
        Trial {
            form: self.form,
            phase,
            margin: self.aimed.phase_margin + phase - needed + passed.unwrap_or(0.0) - cost,
            low_pass,
            dips,
        }
    }

    /// Each peak's |L| over what is asked, relative to a loop without controller.
    fn levels_over(&self, size: &impl Fn(f64) -> f64) -> Vec<Vec<(f64, f64)>> {
        let peaks = self.ground.peaks.iter().zip(&self.aimed.levels);
        let mut tighter = self.tighter.iter().copied();
        peaks
            .map(|(peak, level)| {
                let tighter = tighter.next().unwrap_or(1.0);
                let Some(level) = level else {
                    return Vec::new();
                };
                let level = level * tighter * HAIR;
                let points = peak.grid.iter();
                points
                    .map(|(f, largest)| (*f, largest * size(*f) / level))
                    .collect()
            })
            .collect()
    }

    /// Whether |L| keeps the roll-off with stages of this size in all.
    pub fn keeps_roll_off(&self, size: &impl Fn(f64) -> f64) -> bool {
        let Some(roll_off) = self.ground.wish.roll_off else {
            return true;
        };
        let mut points = self.ground.above.iter();
        let may = HAIR * roll_off.level / self.aimed.gain;
        points.all(|(f, largest)| *f <= self.aimed.crossover || largest * size(*f) <= may)
    }

    pub(super) fn rolls_off(&self, trial: &Trial) -> bool {
        if self.ground.above.is_empty() {
            return true;
        }
        let all = trial.transfers(self.aimed.crossover);
        self.keeps_roll_off(&|f| all.iter().map(|t| t.at(f).norm()).product())
    }
}
