//! Which controllers with which notches hold the wish, ideal parts given.

use super::Nearest;
use super::candidate::Candidate;
use super::choice::{forms, kind};
use super::ground::{Aimed, Ground};
use super::known::Trials;
use super::phases::phases;
use super::replay::Pending;
use super::setting::{Setting, Way};
use super::trial::Trial;
use super::tune::{Tuned, tune};
use crate::compensation::ControllerForm;
use crate::compensation::advice::followed;
use crate::compensation::shaping::amplifiers;
use crate::feedback::{KeptLoop, Margins};
use crate::numerics::put_in_order;

/// All that was found.
pub(super) struct Found {
    /// Best first; those that hold the wish before all others.
    pub candidates: Vec<Candidate>,
    /// Where nothing holds the wish.
    pub nearest: Option<Nearest>,
    /// The highest crossover below the first mode of a stiff plant, Hz, where the wished one is not below.
    pub below_first: Option<f64>,
    /// The mode whose peak holds the wished crossover.
    pub within: Option<usize>,
}

/// Corners of a low-pass over the crossover that are tried beside notches.
const CORNERS: [f64; 8] = [1.5, 2.2, 3.3, 4.7, 6.8, 10.0, 20.0, 40.0];

/// Searches through forms and ways.
pub(super) struct Searcher<'a> {
    pub ground: &'a Ground,
    /// Of the op amp, Hz.
    pub gain_bandwidth: f64,
    /// Kept for real parts: degrees on top of the margin, and what levels are multiplied by.
    pub reserve: (f64, f64),
}

impl Searcher<'_> {
    /// The ground seen from a crossover (Hz), with levels times a factor.
    pub fn aimed(&self, crossover: f64, easier: f64) -> Aimed {
        let margin = self.ground.wish.phase_margin + self.reserve.0;
        self.ground
            .aimed(crossover, margin, easier * self.reserve.1)
    }

    pub fn search(&self, trials: &mut Trials) -> Result<Found, Pending> {
        let wish = &self.ground.wish;
        let aimed = self.aimed(wish.crossover, 1.0);
        let mut found = Found {
            candidates: Vec::new(),
            nearest: None,
            below_first: None,
            within: aimed.within.map(|place| self.ground.peaks[place].mode),
        };
        if aimed.within.is_none() {
            for form in forms(self.ground, &aimed) {
                self.of_form(&aimed, form, trials, &mut found.candidates)?;
            }
            for candidate in &mut found.candidates {
                candidate.is_sound = trials.is_sound(|| self.is_sound(&aimed, &candidate.trial))?;
            }
            put_in_order(&mut found.candidates, Candidate::order);
        }
        let best = found.candidates.first();
        let holds = best.is_some_and(|best| best.reached && best.is_sound);
        if !holds {
            found.nearest = Some(self.nearest(best, trials)?);
        }
        if let Some(first) = self.first_mode()
            && wish.crossover > first.0
            && (!holds || wish.crossover < 4.0 * first.1)
        {
            let stiff = self.highest(first.0 / 1.02, &[Way::None], trials)?;
            found.below_first = stiff;
        }
        Ok(found)
    }

    /// From where to where the first mode of a plant without integrators has its peak, Hz; none where it has no
    /// resonance.
    fn first_mode(&self) -> Option<(f64, f64)> {
        let first = self.ground.peaks.first()?;
        let rigid = self.ground.of.model.rigid;
        (rigid.is_none_or(|rigid| rigid.integrators == 0) && first.mode == 0).then_some(first.range)
    }

    pub fn setting<'a>(&'a self, aimed: &'a Aimed, form: ControllerForm, way: Way) -> Setting<'a> {
        Setting {
            ground: self.ground,
            aimed,
            form,
            way,
            tighter: &[],
        }
    }

    /// All ways with a form.
    fn of_form(
        &self,
        aimed: &Aimed,
        form: ControllerForm,
        trials: &mut Trials,
        into: &mut Vec<Candidate>,
    ) -> Result<(), Pending> {
        let plain = tune(&self.setting(aimed, form, Way::None), trials, true)?;
        let (notches, reached, phase) = match &plain {
            Tuned::Reached(trial, _) => (trial.stages() - 1, true, trial.phase),
            Tuned::Short(Some(trial)) => (trial.stages() - 1, false, trial.phase),
            Tuned::Short(None) => {
                let (low, high) = phases(form);
                (usize::MAX, false, aimed.needed.clamp(low, high))
            }
        };
        self.add(aimed, Way::None, plain, into);
        if notches == 0 && reached {
            return Ok(());
        }
        let mut is_reached = reached;
        for order in [1, 2] {
            let way = Way::Alone(order);
            let tuned = tune(&self.setting(aimed, form, way), trials, false)?;
            is_reached |= matches!(tuned, Tuned::Reached(..));
            self.add(aimed, way, tuned, into);
            if (notches > 1 || !reached)
                && let Some(way) = self.beside(aimed, form, order, phase, trials)?
            {
                let tuned = tune(&self.setting(aimed, form, way), trials, !reached)?;
                is_reached |= matches!(tuned, Tuned::Reached(..));
                self.add(aimed, way, tuned, into);
            }
        }
        // Before it is said that nothing does, every corner is tried.
        if !is_reached {
            for way in CORNERS
                .iter()
                .flat_map(|c| [1, 2].map(|order| Way::Beside(order, *c)))
            {
                let tuned = tune(&self.setting(aimed, form, way), trials, false)?;
                if matches!(tuned, Tuned::Reached(..)) {
                    self.add(aimed, way, tuned, into);
                    break;
                }
            }
        }
        Ok(())
    }

    /// The corner of a low-pass that leaves the most margin beside notches, at this phase of the controller.
    fn beside(
        &self,
        aimed: &Aimed,
        form: ControllerForm,
        order: u32,
        phase: f64,
        trials: &mut Trials,
    ) -> Result<Option<Way>, Pending> {
        let mut best: Option<(f64, Way)> = None;
        let mut near = Vec::new();
        for ratio in CORNERS {
            let way = Way::Beside(order, ratio);
            let setting = self.setting(aimed, form, way);
            if let Some(trial) = trials.tried(|| setting.tried(phase, &near))? {
                near.clone_from(&trial.dips);
                if best.is_none_or(|best| trial.margin > best.0) {
                    best = Some((trial.margin, way));
                }
            }
        }
        Ok(best.map(|(_, way)| way))
    }

    fn add(&self, aimed: &Aimed, way: Way, tuned: Tuned, into: &mut Vec<Candidate>) {
        let (trial, reached, is_more) = match tuned {
            Tuned::Reached(trial, is_more) => (trial, true, is_more),
            Tuned::Short(Some(trial)) => (trial, false, false),
            Tuned::Short(None) => return,
        };
        let crossover = aimed.crossover;
        let without: f64 = trial
            .dips
            .iter()
            .flatten()
            .map(|d| d.size(crossover))
            .product();
        let gain = aimed.gain / without;
        let beside = amplifiers(
            trial.form,
            crossover,
            trial.phase,
            gain,
            self.gain_bandwidth,
        );
        into.push(Candidate {
            way,
            stages: trial.stages() + beside,
            noise_gain: trial.noise_gain(crossover),
            trial,
            reached,
            is_more,
            is_sound: false,
            failed: false,
        });
    }

    /// Whether the loop is stable, and falls through 1 for the last time where it shall.
    pub fn is_sound(&self, aimed: &Aimed, trial: &Trial) -> bool {
        let mut kept: KeptLoop = self.ground.kept.clone();
        kept.stages.extend(trial.transfers(aimed.crossover));
        kept.sign *= aimed.gain;
        let open = kept.open();
        let Some(traced) = followed(&open) else {
            return false;
        };
        if open.unstable_poles(&traced) != Some(0) {
            return false;
        }
        let may_rise = aimed.levels.iter().flatten().any(|level| *level > 1.0);
        let crossings = Margins::read(&open, &traced).gain_crossings;
        let mut above = crossings.iter().map(|c| c.frequency);
        may_rise || !above.any(|f| f > aimed.crossover * 1.001)
    }

    /// The sentence on the choice.
    pub fn why(&self, form: ControllerForm) -> String {
        super::choice::why(kind(self.ground, self.ground.wish.crossover), form)
    }
}
