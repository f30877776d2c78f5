//! Global search over notches and controller together, for where coordinate-wise search ends in a local optimum.
//!
//! A notch that its own peak does not need may still pay, because it lets another notch be narrower; starting from one notch
//! at each peak, a search in one coordinate at a time does not find this. So local searches ([`super::stroll`]) are started
//! from the best known trial, from that with additional wide notches, and from wide notches at all peaks.

use super::dip::Dip;
use super::known::Trials;
use super::replay::Pending;
use super::seating::Seating;
use super::setting::{Setting, Way};
use super::trial::Trial;
use crate::compensation::advice::{LEAST_Q, MOST_Q};

/// A notch is removed where the margin without it is less by no more than this, degrees.
const HAIR: f64 = 0.02;
/// Starting values of an additional notch: wide and shallow, at a peak.
const HELPER: (f64, f64) = (0.7, 0.4);
/// What the first one leaves where none is known.
const DEEP: f64 = 0.01;

impl Setting<'_> {
    /// The best trial that is found from this one, and from wide notches at this phase; itself where
    /// none has more margin.
    pub fn wandered(
        &self,
        from: Option<&Trial>,
        phase: f64,
        trials: &mut Trials,
    ) -> Result<Option<Trial>, Pending> {
        let mut best = from.cloned();
        if matches!(self.way, Way::Alone(_)) {
            return Ok(best);
        }
        let helped = from.cloned();
        let helped = helped.and_then(|mut trial| self.add_helpers(&mut trial).then_some(trial));
        let starts = from.cloned().into_iter().chain(helped);
        for start in starts.chain(self.all_wide(phase)) {
            if let Some(found) = trials.strolled(self, &start)? {
                let found = self.without_needless(found);
                let margin = best.as_ref().map_or(f64::NEG_INFINITY, |best| best.margin);
                if found.margin > margin && self.is_kept(&found) {
                    best = Some(found);
                }
            }
        }
        Ok(best)
    }

    /// Wide notches at all peaks, the first one deep; none where there are none to keep.
    fn all_wide(&self, phase: f64) -> Option<Trial> {
        let low_pass = match self.way {
            Way::None => None,
            _ => {
                let (bare, controller) = self.bare(phase);
                Some(self.low_pass(&bare, &controller)??)
            }
        };
        let mut trial = self.trial(phase, low_pass, vec![None; self.ground.peaks.len()]);
        self.add_helpers(&mut trial);
        let first = trial.dips.iter_mut().flatten().next()?;
        first.gain = DEEP;
        Some(trial)
    }

    /// A wide notch at each peak but the one whose own costs most; whether there was any to add.
    fn add_helpers(&self, trial: &mut Trial) -> bool {
        let cost = |dip: &Option<Dip>| dip.map_or(0.0, |dip| dip.cost(self.aimed.crossover));
        let costs: Vec<f64> = trial.dips.iter().map(cost).collect();
        let main = (0..costs.len()).max_by(|&a, &b| costs[a].total_cmp(&costs[b]));
        let main = main.filter(|&main| costs[main] > 0.0);
        let peaks = self.ground.peaks.iter().zip(&self.aimed.levels);
        let mut is_new = false;
        for (place, (dip, (peak, level))) in trial.dips.iter_mut().zip(peaks).enumerate() {
            let frequency = (peak.drift.0 * peak.drift.1).sqrt();
            let (q, gain) = HELPER;
            let is_wide = dip.is_some_and(|dip| dip.q <= q);
            if Some(place) != main
                && !is_wide
                && level.is_some()
                && frequency > self.aimed.crossover
            {
                *dip = Some(Dip { frequency, q, gain });
                is_new = true;
            }
        }
        is_new
    }

    fn is_kept(&self, trial: &Trial) -> bool {
        let (mut bare, _) = self.bare(trial.phase);
        self.pass(trial.low_pass.as_ref(), &mut bare);
        let holds = Seating::of(self, &bare).holds(&trial.dips);
        holds && self.are_placed(trial) && self.rolls_off(trial)
    }

    /// Whether each notch is one, above the crossover and nearer to its own peak than to any other.
    pub fn are_placed(&self, trial: &Trial) -> bool {
        let middle = |place: usize| {
            let drift = self.ground.peaks[place].drift;
            (drift.0 * drift.1).sqrt()
        };
        let count = self.ground.peaks.len();
        trial.dips.iter().enumerate().all(|(place, dip)| {
            let Some(dip) = dip else { return true };
            let off = |place: usize| (dip.frequency / middle(place)).ln().abs();
            let x = dip.x(self.aimed.crossover);
            dip.frequency > self.aimed.crossover * 1.001
                && (LEAST_Q..=MOST_Q).contains(&dip.q)
                && x * x >= dip.gain
                && (0..count).all(|other| off(other) >= off(place))
        })
    }

    /// Without redundant notches, where removing them costs a negligible margin.
    fn without_needless(&self, mut trial: Trial) -> Trial {
        for place in 0..trial.dips.len() {
            let mut dips = trial.dips.clone();
            if dips[place].take().is_some() {
                let without = self.trial(trial.phase, trial.low_pass, dips);
                if without.margin > trial.margin - HAIR && self.is_kept(&without) {
                    trial = without;
                }
            }
        }
        trial
    }
}
