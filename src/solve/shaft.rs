//! The modes of a shaft beside the measured ones.

use crate::outcome::{DrawnMode, ShaftOutcome};
use crate::servo::shaft::{Shaft, check, modes};

/// Modes told.
const TOLD: usize = 6;

/// A shaft with what was found for it: worked out once, not at every keystroke.
pub(super) struct Known {
    shaft: Shaft,
    pub outcome: ShaftOutcome,
}

/// Works a shaft out, or takes over what is known of it.
pub(super) fn work_out(shaft: &Shaft, before: Option<Known>) -> Known {
    if let Some(known) = before.filter(|known| known.shaft == *shaft) {
        return known;
    }
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
    Known {
        shaft: shaft.clone(),
        outcome: ShaftOutcome {
            modes: drawn.collect(),
            rigid,
            errors,
        },
    }
}
