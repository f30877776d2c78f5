//! Root finding for the controller's phase at which the loop, notches included, has the required margin.

use super::known::Trials;
use super::phases::phases;
use super::replay::Pending;
use super::setting::Setting;
use super::trial::Trial;
use crate::compensation::Dip;

/// The result.
#[derive(Clone, Debug)]
pub(super) enum Tuned {
    /// The margin is as wished; or it is more, and the controller has no less phase to give.
    Reached(Trial, bool),
    /// The most that there is, if anything keeps the peaks.
    Short(Option<Trial>),
}

/// Convergence tolerance, degrees.
const CLOSE: f64 = 0.02;
/// Points of the first look at the whole reach, fewer where it is but a question whether anything does, and steps that
/// close in on its best.
const POINTS: u32 = 7;
const FEWER_POINTS: u32 = 4;
const CLOSER: u32 = 9;

/// Looks for the least phase that leaves the wished margin. More phase makes more gain above, which takes
/// wider notches, which take more of the phase: the margin rises by less than the phase, and so far only.
pub(super) fn tune(
    setting: &Setting,
    trials: &mut Trials,
    thorough: bool,
) -> Result<Tuned, Pending> {
    let wished = setting.aimed.phase_margin;
    let (low, high) = phases(setting.form);
    let start = setting.aimed.needed.clamp(low, high);
    let mut near: Vec<Option<Dip>> = Vec::new();
    let mut at = start;
    let mut below: Option<Trial> = None;
    for _ in 0..14 {
        let Some(trial) = trials.tried(|| setting.tried(at, &near))? else {
            break;
        };
        near.clone_from(&trial.dips);
        let lacks = wished - trial.margin;
        if lacks <= CLOSE {
            if lacks >= -CLOSE {
                return Ok(Tuned::Reached(trial, false));
            }
            let Some(below) = below else {
                // There is no less phase to be had where the start is the form's own end.
                if at <= low + 1e-9 {
                    return Ok(Tuned::Reached(trial, true));
                }
                return between(setting, trials, None, trial);
            };
            return between(setting, trials, Some(below), trial);
        }
        // From below no step of the size of what lacks goes too far; two of them tell how far more would not.
        let slope = below.as_ref().map_or(1.0, |before| {
            (trial.margin - before.margin) / (trial.phase - before.phase)
        });
        if slope < 0.05 || at >= high {
            break;
        }
        at = (at + lacks / slope.min(1.0)).min(high);
        below = Some(trial);
    }
    look_over(setting, trials, (start, high), thorough)
}

/// The margin over the whole reach: somewhere it may be enough all the same, and else it is known how much
/// there is.
fn look_over(
    setting: &Setting,
    trials: &mut Trials,
    (low, high): (f64, f64),
    thorough: bool,
) -> Result<Tuned, Pending> {
    let wished = setting.aimed.phase_margin;
    let points = if thorough { POINTS } else { FEWER_POINTS };
    let mut best: Option<Trial> = None;
    let mut before: Option<Trial> = None;
    for k in 0..points {
        let at = low + (high - low) * f64::from(k) / f64::from(points - 1);
        if k > 0 && low == high {
            break;
        }
        let near = before.as_ref().map_or(Vec::new(), |t| t.dips.clone());
        let Some(trial) = trials.tried(|| setting.tried(at, &near))? else {
            continue;
        };
        if is_enough(&trial, wished, &mut best) {
            return between(setting, trials, before, trial);
        }
        before = Some(trial);
    }
    let step = (high - low) / f64::from(points - 1);
    if let (Some(top), true) = (&best, thorough && step > 0.0) {
        let ends = ((top.phase - step).max(low), (top.phase + step).min(high));
        if let Some(enough) = look_closer(setting, trials, ends, &mut best)? {
            return between(setting, trials, None, enough);
        }
    }
    // From the best of them all numbers are moved together.
    let middle = 0.5 * (low + high);
    if thorough
        && let Some(trial) = setting.wandered(best.as_ref(), middle, trials)?
        && is_enough(&trial, wished, &mut best)
    {
        let is_more = trial.margin > wished + 0.5;
        return Ok(Tuned::Reached(trial, is_more));
    }
    Ok(Tuned::Short(best))
}

/// Closes in on the largest margin between two phases; gives a trial that is enough as soon as there is one.
fn look_closer(
    setting: &Setting,
    trials: &mut Trials,
    (mut a, mut b): (f64, f64),
    best: &mut Option<Trial>,
) -> Result<Option<Trial>, Pending> {
    let wished = setting.aimed.phase_margin;
    for _ in 0..CLOSER {
        // Ternary search: the maximum may be at a kink.
        let near = best.as_ref().map_or(Vec::new(), |t| t.dips.clone());
        let places = [a + 0.382 * (b - a), a + 0.618 * (b - a)];
        let mut margins = [f64::NEG_INFINITY; 2];
        for (place, margin) in places.into_iter().zip(&mut margins) {
            if let Some(trial) = trials.tried(|| setting.tried(place, &near))? {
                *margin = trial.margin;
                if is_enough(&trial, wished, best) {
                    return Ok(Some(trial));
                }
            }
        }
        if margins[0] >= margins[1] {
            b = places[1];
        } else {
            a = places[0];
        }
        if b - a < 0.1 {
            break;
        }
    }
    Ok(None)
}

/// Whether a trial has the wished margin; keeps it where it is the best so far.
fn is_enough(trial: &Trial, wished: f64, best: &mut Option<Trial>) -> bool {
    if (best.as_ref()).is_none_or(|best| trial.margin > best.margin) {
        *best = Some(trial.clone());
    }
    trial.margin >= wished
}

/// Closes in between a phase that leaves too little, or the least that a form has, and one that leaves too much.
fn between(
    setting: &Setting,
    trials: &mut Trials,
    below: Option<Trial>,
    above: Trial,
) -> Result<Tuned, Pending> {
    let wished = setting.aimed.phase_margin;
    let (mut a, mut fa) = match &below {
        Some(trial) => (trial.phase, trial.margin - wished),
        None => {
            let (low, _) = phases(setting.form);
            // So much less phase leaves less than so much less margin.
            let far = above.phase - 2.0 * (above.margin - wished) - 1.0;
            (far.max(low), wished - above.margin)
        }
    };
    let mut best = above;
    for k in 0..24 {
        let (b, fb) = (best.phase, best.margin - wished);
        if fb <= CLOSE || b - a < 1e-6 {
            break;
        }
        let secant = b - fb * (b - a) / (fb - fa);
        let at = if k % 3 == 2 || !(a..b).contains(&secant) {
            0.5 * (a + b)
        } else {
            // Errors are to the safe side: slightly too much phase.
            (secant + 0.1 * CLOSE).min(b)
        };
        let near = best.dips.clone();
        match trials.tried(|| setting.tried(at, &near))? {
            Some(trial) if trial.margin >= wished - CLOSE => best = trial,
            Some(trial) => (a, fa) = (trial.phase, trial.margin - wished),
            None => (a, fa) = (at, -1.0),
        }
    }
    let is_more = best.margin > wished + 0.5;
    Ok(Tuned::Reached(best, is_more))
}
