//! What can be had where the whole wish cannot: each time one of crossover, margin and peaks gives way.

use super::Nearest;
use super::candidate::Candidate;
use super::choice::forms;
use super::ground::Aimed;
use super::known::Trials;
use super::replay::Pending;
use super::search::Searcher;
use super::setting::Way;
use super::tune::{Tuned, tune};
use crate::numerics::Bracket;

/// Levels are tried so much easier than asked, dB, and as closely as this.
const EASIEST: f64 = 60.0;
const CLOSE: f64 = 0.25;
/// From one crossover that is tried to the next, as a ratio; how many, and how often a step is halved.
const LOWER: f64 = 0.85;
const STEPS: u32 = 16;
const HALVES: u32 = 5;

impl Searcher<'_> {
    /// Whether a form of those that suit, going one of these ways, holds margin and peaks.
    fn reaches(&self, aimed: &Aimed, ways: &[Way], trials: &mut Trials) -> Result<bool, Pending> {
        if aimed.within.is_some() || !aimed.gain.is_finite() {
            return Ok(false);
        }
        for form in forms(self.ground, aimed) {
            for way in ways {
                let tuned = tune(&self.setting(aimed, form, *way), trials, false)?;
                if let Tuned::Reached(trial, _) = tuned
                    && trials.is_sound(|| self.is_sound(aimed, &trial))?
                {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// What comes nearest: each time two of the three wishes are kept.
    pub fn nearest(
        &self,
        best: Option<&Candidate>,
        trials: &mut Trials,
    ) -> Result<Nearest, Pending> {
        let aimed = self.aimed(self.ground.wish.crossover, 1.0);
        let ways = match best.map(|best| best.way) {
            None | Some(Way::None) => vec![Way::None],
            Some(way) => vec![Way::None, way],
        };
        let crossover = self.highest(aimed.crossover, &ways, trials)?;
        let easier_db = match aimed.within {
            None => self.easier(aimed.crossover, &ways, trials)?,
            Some(_) => None,
        };
        Ok(Nearest {
            phase_margin: best
                .filter(|best| best.is_sound)
                .map(|best| best.trial.margin - self.reserve.0),
            crossover,
            easier_db,
        })
    }

    /// By how many dB all levels must be higher at a crossover (Hz), none where that alone does not help.
    fn easier(
        &self,
        crossover: f64,
        ways: &[Way],
        trials: &mut Trials,
    ) -> Result<Option<f64>, Pending> {
        let does = |easier: f64, trials: &mut Trials| {
            let factor = 10f64.powf(easier / 20.0);
            self.reaches(&self.aimed(crossover, factor), ways, trials)
        };
        if !does(EASIEST, trials)? {
            return Ok(None);
        }
        let mut easier = Bracket {
            holds: EASIEST,
            fails: 0.0,
        };
        while easier.holds - easier.fails > CLOSE {
            let middle = easier.middle();
            easier.learn(middle, does(middle, trials)?);
        }
        Ok(Some(easier.holds))
    }

    /// The highest crossover from here down at which margin and peaks are kept, Hz, to three digits.
    pub fn highest(
        &self,
        from: f64,
        ways: &[Way],
        trials: &mut Trials,
    ) -> Result<Option<f64>, Pending> {
        let does = |f: f64, trials: &mut Trials| self.reaches(&self.aimed(f, 1.0), ways, trials);
        let mut fails = from;
        for k in 0..STEPS {
            let lower = from * if k == 0 { 0.99 } else { LOWER.powi(k as i32) };
            if !does(lower, trials)? {
                fails = lower;
                continue;
            }
            let mut kept = Bracket {
                holds: lower,
                fails,
            };
            for _ in 0..HALVES {
                let middle = kept.log_middle();
                kept.learn(middle, does(middle, trials)?);
            }
            let digit = 10f64.powf(kept.holds.log10().floor() - 2.0);
            let rounded = (kept.holds / digit).floor() * digit;
            let is_well = does(rounded, trials)?;
            return Ok(Some(if is_well { rounded } else { kept.holds }));
        }
        Ok(None)
    }
}
