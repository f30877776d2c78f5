//! Whether a loop can be moved in time.

use crate::feedback::{OpenLoop, whole_range};
use crate::plant::{Mode, Model};
use crate::response::Transfer;

/// Poles of path and plant together, about, at most.
const MOST_STATES: usize = 120;
/// Sizes of numbers, from the reciprocal on; products of them and eigenvalues are numbers then.
const LARGEST: f64 = 1e40;

/// Whether path and plant are made of numbers that can be worked with.
///
/// # Errors
/// A sentence that names what cannot.
pub(super) fn check(open: &OpenLoop, model: &Model) -> Result<(), String> {
    if !(0.0..=1e6).contains(&model.delay) {
        return Err("The plant's delay must lie between 0 and 1e6 s.".to_owned());
    }
    if !model
        .rigid
        .is_none_or(|rigid| rigid.integrators <= 2 && usable(rigid.gain))
    {
        return Err(format!(
            "The plant's rigid part may have 0, 1 or 2 integrators and a gain of {LARGEST:e} at most."
        ));
    }
    if let Some(at) = model.modes.iter().position(|mode| !is_mode(mode)) {
        return Err(format!(
            "Mode {} of the plant is not made of usable numbers.",
            at + 1
        ));
    }
    if !model.lag.is_none_or(positive) {
        return Err("The plant's lag needs a corner above 0 Hz.".to_owned());
    }
    if !usable(open.sign) {
        return Err("The loop's sign is not a number.".to_owned());
    }
    let stages = open.stages.iter().map(|stage| stage.den.len());
    let order = stages.fold(3 + 2 * model.modes.len(), usize::saturating_add);
    if order > MOST_STATES {
        return Err(format!(
            "Path and plant together may have {MOST_STATES} poles at most."
        ));
    }
    if let Some(at) = open.stages.iter().position(|stage| !is_stage(stage)) {
        return Err(format!(
            "Stage {} of the path has a response that is not made of usable numbers.",
            at + 1
        ));
    }
    match range(open) {
        Some(_) => Ok(()),
        None => Err("Corners of path and plant must lie less than 40 decades apart.".to_owned()),
    }
}

/// From below all corners to above them, Hz; none where they are too far apart to be followed.
fn range(open: &OpenLoop) -> Option<(f64, f64)> {
    let known = open.roots().iter().all(|root| root.is_finite());
    let (low, high) = known.then(|| whole_range(open))?;
    (low.is_normal() && high.is_finite() && high / low < 1e60).then_some((low, high))
}

fn usable(value: f64) -> bool {
    value == 0.0 || (LARGEST.recip()..=LARGEST).contains(&value.abs())
}

fn positive(value: f64) -> bool {
    value > 0.0 && usable(value)
}

fn is_mode(mode: &Mode) -> bool {
    positive(mode.frequency)
        && [mode.damping, mode.residue, mode.slope]
            .into_iter()
            .all(usable)
}

fn is_stage(stage: &Transfer) -> bool {
    let numbers = stage.num.iter().chain(&stage.den).all(|c| usable(*c));
    numbers && stage.den.iter().any(|c| *c != 0.0) && positive(stage.omega)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Plant;

    #[test]
    fn what_is_no_number_is_named() {
        let stage = Transfer {
            num: vec![1.0],
            den: vec![0.0, f64::NAN],
            omega: 1.0,
        };
        let (model, wrong) = (
            Model::default(),
            Model {
                delay: -1.0,
                ..Model::default()
            },
        );
        let open = OpenLoop {
            stages: vec![&stage],
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        assert!(
            check(&open, &model)
                .unwrap_err()
                .starts_with("Stage 1 of the path")
        );
        assert!(
            check(&open, &wrong)
                .unwrap_err()
                .starts_with("The plant's delay")
        );
    }
}
