//! The modes of a shaft beside the measured ones.

use super::at_once::AtOnce;
use super::task::{Asked, Blocked};
use crate::outcome::{DrawnMode, Outcome, ShaftOutcome};
use crate::plant::shaft::{Shaft, check, modes};

/// Modes told.
const TOLD: usize = 6;

/// A shaft's modes.
#[derive(Default)]
pub(super) struct ShaftModes;

impl AtOnce for ShaftModes {
    const FIELD: &'static str = "shaft";
    type Reads = Shaft;
    type Finds = ShaftOutcome;

    fn reads(asked: &Asked) -> Result<Option<Shaft>, Blocked> {
        Ok(asked.design.servo.shaft.clone())
    }

    fn find(&mut self, shaft: &Shaft) -> ShaftOutcome {
        work_out(shaft)
    }

    fn is_same(first: &ShaftOutcome, second: &ShaftOutcome) -> bool {
        first == second
    }

    fn tell(_: &Shaft, found: &ShaftOutcome, outcome: &mut Outcome) {
        outcome.shaft = Some(found.clone());
    }
}

fn work_out(shaft: &Shaft) -> ShaftOutcome {
    let found = check(shaft).and_then(|()| modes(shaft, TOLD).map_err(|error| vec![error]));
    let (all, errors) = match found {
        Ok(all) => (all, Vec::new()),
        Err(errors) => (Vec::new(), errors),
    };
    let rigid = all.iter().filter(|mode| mode.is_rigid()).count();
    let drawn = all
        .iter()
        .filter(|mode| !mode.is_rigid())
        .map(|mode| DrawnMode {
            frequency: mode.frequency,
            shape: mode.drawn(),
        });
    ShaftOutcome {
        modes: drawn.collect(),
        rigid,
        errors,
    }
}
