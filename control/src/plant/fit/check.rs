//! What settings must keep.

use super::error::FitError;
use super::low_end::LowEnd;
use super::settings::{Free, Settings, Start, Wish};
use super::terms::{self, DAMPING};
use crate::plant::{Mode, Model, Rigid};
use crate::quantity::{Unit, exact, rounded};

/// Checks settings by themselves.
///
/// # Errors
/// The first setting that cannot be worked with.
pub(super) fn check(settings: &Settings) -> Result<(), FitError> {
    let bad = |sentence: String| Err(FitError::Setting(sentence));
    if let Some(start) = &settings.start {
        return check_start(start);
    }
    if settings.most_modes > Settings::MOST_MODES {
        return bad(format!(
            "At most {} modes can be looked for; {} are required.",
            Settings::MOST_MODES,
            settings.most_modes
        ));
    }
    if settings.most_modes == 0 && settings.low_end == Some(LowEnd::Spring) {
        return bad("A plant held by a spring has a mode at least; none is allowed.".into());
    }
    if let Wish::Held(delay) = settings.delay {
        check_delay(delay)?;
    }
    match settings.lag {
        Wish::Held(lag) => check_corner("The lag corner", lag),
        _ => Ok(()),
    }
}

/// A sentence on what a start may not be.
fn bad(sentence: String) -> Result<(), FitError> {
    Err(FitError::Setting(sentence))
}

/// Corners and modes' frequencies that can be worked with, Hz.
const CORNERS: (f64, f64) = (1e-9, 1e15);
/// Delays, s.
const DELAYS: (f64, f64) = (0.0, 1e6);

fn check_corner(name: &str, corner: f64) -> Result<(), FitError> {
    check_within(name, CORNERS, Unit::Hertz, corner)
}

fn check_delay(delay: f64) -> Result<(), FitError> {
    check_within("The delay", DELAYS, Unit::Second, delay)
}

fn check_within(name: &str, range: (f64, f64), unit: Unit, value: f64) -> Result<(), FitError> {
    if (range.0..=range.1).contains(&value) {
        return Ok(());
    }
    let [low, high] = [range.0, range.1].map(|end| exact(end, unit));
    let value = rounded(value, unit, 6);
    bad(format!(
        "{name} must lie between {low} and {high}; it is {value}."
    ))
}

fn is_large(x: f64) -> bool {
    x.is_nan() || x.abs() >= 1e90
}

fn check_start(start: &Start) -> Result<(), FitError> {
    let Start { model, free } = start;
    if model.modes.len() != free.modes.len() {
        return bad(format!(
            "What is free is said of {1} modes, and the start has {0}.",
            model.modes.len(),
            free.modes.len()
        ));
    }
    if model.modes.len() > Settings::MOST_MODES {
        return bad(format!(
            "A start can have {} modes at most; it has {}.",
            Settings::MOST_MODES,
            model.modes.len()
        ));
    }
    if model.rigid.is_none() && model.modes.is_empty() {
        return bad("The start has neither a rigid part nor a mode.".into());
    }
    model.rigid.iter().try_for_each(check_rigid)?;
    model.modes.iter().try_for_each(check_mode)?;
    if let Some(lag) = model.lag {
        check_corner("The lag corner", lag)?;
    }
    check_delay(model.delay)
}

fn check_rigid(rigid: &Rigid) -> Result<(), FitError> {
    if rigid.integrators > 2 {
        return bad(format!(
            "A rigid part has 0, 1 or 2 integrators; the start has {}.",
            rigid.integrators
        ));
    }
    if let Some(corner) = rigid.friction {
        check_corner("The friction corner", corner)?;
    }
    if is_large(rigid.gain) {
        return bad(format!(
            "The rigid part's gain must be a number; it is {}.",
            rigid.gain
        ));
    }
    Ok(())
}

fn check_mode(mode: &Mode) -> Result<(), FitError> {
    check_corner("A mode's frequency", mode.frequency)?;
    if !(DAMPING.0..=DAMPING.1).contains(&mode.damping) {
        return bad(format!(
            "A mode's damping must lie between {} and {}; that at {} Hz has {}.",
            DAMPING.0, DAMPING.1, mode.frequency, mode.damping
        ));
    }
    if is_large(mode.residue) || is_large(mode.slope) {
        return bad(format!(
            "Residue and slope of a mode must be numbers; those at {} Hz are {} and {}.",
            mode.frequency, mode.residue, mode.slope
        ));
    }
    Ok(())
}

/// Whether `points` are enough for what is free.
///
/// # Errors
/// How many would be.
pub(super) fn check_points(model: &Model, free: &Free, points: usize) -> Result<(), FitError> {
    let parameters = terms::linear(model, free).len() + terms::curved(model, free).len();
    // A point gives two numbers, and one must be left over to know the noise.
    let needed = parameters / 2 + 1;
    if points < needed {
        return Err(FitError::Points {
            points,
            needed,
            parameters,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_worked_with_is_named() {
        let told = |settings: Settings| check(&settings).unwrap_err().to_string();
        let held = told(Settings {
            delay: Wish::Held(-1.0),
            ..Settings::default()
        });
        assert!(held.contains("it is −1 s"));
        let mut start = Start::of(Model::default());
        start.add_mode(100.0);
        start.free.modes.clear();
        let uneven = told(Settings {
            start: Some(start),
            ..Settings::default()
        });
        assert_eq!(
            uneven,
            "What is free is said of 0 modes, and the start has 1."
        );
        assert!(check(&Settings::default()).is_ok());
    }
}
