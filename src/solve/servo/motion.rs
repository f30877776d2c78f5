//! The closed loop in time, as it is told.

use crate::outcome::MotionOutcome;
use crate::servo::{ErrorConstants, Motion, MotionAsk, OpenLoop};

/// Samples that are drawn, about.
const DRAWN: usize = 800;
/// The first samples are all kept: the drive is quick there.
const FIRST: usize = 80;

pub(super) fn describe(open: &OpenLoop, ask: &MotionAsk) -> MotionOutcome {
    let (answer, why) = match Motion::work_out(open, ask) {
        Ok(answer) => (Some(thinned(answer)), None),
        Err(why) => (None, Some(why)),
    };
    let constants = ErrorConstants::of(open).ok();
    MotionOutcome {
        answer,
        why,
        told: constants
            .as_ref()
            .map(ErrorConstants::sentences)
            .unwrap_or_default(),
        constants,
    }
}

fn thinned(mut motion: Motion) -> Motion {
    let count = motion.time.len();
    let stride = count.div_ceil(DRAWN).max(1);
    let lists = [
        &mut motion.time,
        &mut motion.reference,
        &mut motion.position,
        &mut motion.error,
        &mut motion.drive,
    ];
    for list in lists {
        let mut at = 0;
        list.retain(|_| {
            at += 1;
            at <= FIRST || at == count || at % stride == 0
        });
    }
    motion
}
