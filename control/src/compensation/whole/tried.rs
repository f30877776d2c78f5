//! A controller whose phase is given, with all the notches that it needs.
//!
//! With the crossover and the controller's phase given, the controller is known but for its gain, and its gain is
//! what brings |L| to 1 there, whatever the notches.

use super::dip::Dip;
use super::seating::Seating;
use super::setting::{Setting, Way};
use super::trial::Trial;

impl Setting<'_> {
    /// With the controller's phase in degrees; notches begin where they are `near`. None where no notches, or no
    /// low-pass, keep the levels.
    pub fn tried(&self, phase: f64, near: &[Option<Dip>]) -> Option<Trial> {
        let (mut bare, controller) = self.bare(phase);
        let low_pass = self.low_pass(&bare, &controller)?;
        self.pass(low_pass.as_ref(), &mut bare);
        let dips = match self.way {
            Way::Alone(_) => vec![None; bare.len()],
            _ => Seating::of(self, &bare).settled(near)?,
        };
        let trial = self.trial(phase, low_pass, dips);
        (trial.margin.is_finite() && self.rolls_off(&trial)).then_some(trial)
    }
}
