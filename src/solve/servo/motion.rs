//! The closed loop in time, as it is told.

use crate::outcome::MotionOutcome;
use crate::servo::{ErrorConstants, Motion, MotionAsk, OpenLoop, Traced};

/// Samples that are drawn, about.
const DRAWN: usize = 800;
/// The first samples are all kept: the drive is quick there.
const FIRST: usize = 80;

/// `traced` is the loop's whole curve.
pub(super) fn describe(open: &OpenLoop, traced: &[Traced], ask: &MotionAsk) -> MotionOutcome {
    let constants = match ErrorConstants::of_traced(open, traced) {
        Ok(constants) => constants,
        Err(why) => {
            return MotionOutcome {
                answer: None,
                why: Some(why),
                told: Vec::new(),
                constants: None,
            };
        }
    };
    let (answer, why) = match Motion::work_out_traced(open, traced, &constants, ask) {
        Ok(answer) => (Some(thinned(answer)), None),
        Err(why) => (None, Some(why)),
    };
    MotionOutcome {
        answer,
        why,
        told: constants.sentences(),
        constants: Some(constants),
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
