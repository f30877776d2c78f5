//! The controller off the shelf, for the loop with the very notches and the low-pass that were bought.

use super::WholeShop;
use super::joined::with;
use super::plan::Plan;
use crate::compensation::shaping::attempt::{Attempt, Nearness};
use crate::compensation::whole::bought::circuits;
use crate::compensation::whole::ground::Ground;
use crate::compensation::whole::trial::Trial;
use crate::compensation::{Controller, ControllerForm, ShapeWish};
use crate::stages::by_id;

/// Less than what the loop may be off, degrees and a fraction of the crossover: nothing is corrected any more, and
/// it is enough.
const NEAR: (f64, f64) = (0.3, 0.003);
const ENOUGH: (f64, f64) = (0.8, 0.008);
/// At the end of the form's reach real notches leave too little: so much less is asked for then, degrees, until it is
/// there.
const LESS: [f64; 7] = [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0];

/// The search for a controller that leaves this margin (degrees); none where its form makes nothing like it.
pub(super) fn attempt(
    ground: &Ground,
    shop: &WholeShop,
    plan: &Plan,
    margin: f64,
) -> Option<Attempt> {
    let kept = with(&ground.kept, &plan.bought);
    let form = plan.trial.form;
    let steep = steepness(ground, &plan.trial);
    let mut nearness = Nearness {
        near: (NEAR.0, NEAR.1 * steep),
        enough: (ENOUGH.0, ENOUGH.1 * steep),
    };
    if !form.turns() {
        (nearness.near.0, nearness.enough.0) = (f64::INFINITY, f64::INFINITY);
    }
    let usual = Controller::of(form, 420.0, plan.trial.phase, 1.0).ask()?;
    let controller = circuits(&usual, preferred(form), &shop.shelf, &shop.op_amp);
    let controller = controller.into_iter().next()?;
    let amplifier = by_id("gain-non-inverting")?;
    let pair = [controller, amplifier];
    LESS.into_iter().find_map(|less| {
        let wish = ShapeWish {
            crossover: ground.wish.crossover,
            phase_margin: margin - less,
            form,
        };
        Attempt::of(pair, &kept, &wish, &shop.op_amp, nearness)
    })
}

/// By how many nepers |L| falls a neper of frequency at the crossover; not less than half.
fn steepness(ground: &Ground, trial: &Trial) -> f64 {
    const STEP: f64 = 0.005;
    let crossover = ground.wish.crossover;
    let all = trial.transfers(crossover);
    let size = |f: f64| {
        let stages: f64 = all.iter().map(|t| t.at(f).norm()).product();
        ground.kept.open().at(f).norm() * stages
    };
    let fall = (size(crossover * (1.0 - STEP)) / size(crossover * (1.0 + STEP))).ln();
    (fall / (2.0 * STEP)).clamp(0.5, 3.0)
}

/// The circuit that a form opens with, where the catalogue has several.
fn preferred(form: ControllerForm) -> Option<&'static str> {
    match form {
        ControllerForm::Pid { .. } => Some("pid-parallel"),
        ControllerForm::Lead { .. } => Some("lead"),
        _ => None,
    }
}
