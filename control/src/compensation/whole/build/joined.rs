//! Bought stages put together: as a loop, and as they are told.

use super::plan::Plan;
use crate::compensation::shaping::attempt::Made;
use crate::compensation::whole::bought::Bought;
use crate::compensation::whole::ground::Ground;
use crate::compensation::whole::{Dip, PathStage, Role, WholeLoop, WholeStage};
use crate::compensation::wrapped::wrapped;
use crate::feedback::KeptLoop;
use crate::response::Transfer;
use crate::stages::Ask;

/// The loop with these stages in it.
pub(super) fn with(kept: &KeptLoop, bought: &[Bought]) -> KeptLoop {
    let mut kept = kept.clone();
    kept.stages
        .extend(bought.iter().map(|b| b.transfer.clone()));
    kept
}

/// The loop with the controller and all that was bought.
pub(super) fn whole(ground: &Ground, plan: &Plan, made: &Made) -> WholeLoop {
    let mut of = ground.of.clone();
    let mut add = |transfer: &Transfer, notch| {
        of.stages.push(PathStage {
            transfer: transfer.clone(),
            notch,
        });
    };
    made.transfers.iter().for_each(|t| add(t, None));
    for (want, bought) in plan.pairs() {
        add(&bought.transfer, Dip::of(&want.ask));
    }
    of.sign = made.sign;
    of
}

/// In signal order: the controller, its amplifiers, notches, low-pass.
pub(super) fn stages(plan: &Plan, made: &Made, crossover: f64) -> Vec<WholeStage> {
    let of = |circuit: &str, ask: &Ask, transfer: &Transfer, role| WholeStage {
        circuit: circuit.to_owned(),
        ask: ask.clone(),
        role,
        gain_db: transfer.magnitude_db(crossover),
        phase_deg: match transfer.low_sign() {
            sign if sign < 0.0 => wrapped(transfer.phase_deg(crossover) + 180.0),
            _ => transfer.phase_deg(crossover),
        },
    };
    let own = made.asks.iter().zip(&made.transfers).enumerate();
    let mut all: Vec<WholeStage> = own
        .map(|(at, (ask, transfer))| {
            let (circuit, role) = match at {
                0 => (
                    made.circuits[0],
                    Role::Controller(plan.trial.form.name().to_owned()),
                ),
                _ => (made.circuits[1], Role::Amplifier),
            };
            of(circuit, ask, transfer, role)
        })
        .collect();
    all.extend(plan.pairs().map(|(want, bought)| {
        let role = want.role.clone();
        of(bought.circuit, &bought.ask, &bought.transfer, role)
    }));
    all
}
