//! The closed loop in time, as it is told.

use crate::design::{PlantUnits, ServoDesign, with_unit};
use crate::outcome::{MotionOutcome, OtherLowEnd};
use crate::quantity::{Unit, rounded};
use crate::servo::{Decision, ErrorConstants, Motion, OpenLoop, Plant, Traced};

/// Samples that are drawn, about.
const DRAWN: usize = 800;
/// The first samples are all kept: the drive is quick there.
const FIRST: usize = 80;

/// `traced` is the loop's whole curve; `decision` what the sweep says of the plant's low end.
pub(super) fn describe(
    open: &OpenLoop,
    traced: &[Traced],
    servo: &ServoDesign,
    decision: Option<&Decision>,
) -> MotionOutcome {
    let constants = match ErrorConstants::of_traced(open, traced) {
        Ok(constants) => constants,
        Err(why) => {
            return MotionOutcome {
                answer: None,
                why: Some(why),
                told: Vec::new(),
                otherwise: Vec::new(),
                constants: None,
                units: servo.units.of_motion(),
            };
        }
    };
    let (answer, why) = match Motion::work_out_traced(open, traced, &constants, &servo.motion) {
        Ok(answer) => (Some(told_whole(answer, servo)), None),
        Err(why) => (None, Some(why)),
    };
    // What the sweep decides, or the user, needs no other answer.
    let undecided = decision.filter(|decision| !decision.is_decided && !decision.is_set);
    let otherwise = undecided.map_or_else(Vec::new, |decision| otherwise(open, decision));
    let mut told = constants.sentences(&servo.units);
    told.splice(0..0, undecided.map(down_to));
    told.extend(otherwise.iter().map(|other| sentence(other, &servo.units)));
    MotionOutcome {
        answer,
        why,
        told,
        otherwise,
        constants: Some(constants),
        units: servo.units.of_motion(),
    }
}

/// A motion as it is drawn, with what its ask's limit makes of it: after an unstable loop, before all else.
fn told_whole(answer: Motion, servo: &ServoDesign) -> Motion {
    let saturates = answer.saturates(&servo.motion, &servo.units);
    let mut answer = thinned(answer);
    let at = usize::from(answer.stable != Some(true)).min(answer.notes.len());
    answer.notes.splice(at..at, saturates);
    answer
}

/// The loop round every plant that the sweep leaves possible.
fn otherwise(open: &OpenLoop, decision: &Decision) -> Vec<OtherLowEnd> {
    let Plant::Model(model) = open.plant else {
        return Vec::new();
    };
    let plants = decision.open(model).into_iter();
    plants
        .filter_map(|(low_end, plant)| {
            let other = OpenLoop {
                plant: Plant::Model(&plant),
                ..open.clone()
            };
            Some(OtherLowEnd {
                low_end,
                constants: ErrorConstants::at_rest(&other).ok()?,
            })
        })
        .collect()
}

fn down_to(decision: &Decision) -> String {
    format!(
        "The sweep does not decide how many integrators the plant has at rest. What follows holds for {}, down to {}.",
        decision.low_end.name(),
        rounded(decision.from, Unit::Hertz, 2)
    )
}

/// What another low end would leave of an error.
fn sentence(other: &OtherLowEnd, units: &PlantUnits) -> String {
    let OtherLowEnd { low_end, constants } = other;
    let left = |error: Option<f64>| {
        error.map_or("grows without bound".to_owned(), |error| {
            let error = with_unit(rounded(error.abs(), Unit::One, 3), &units.output);
            format!("is {error}")
        })
    };
    format!(
        "If it is {} instead, the loop is of type {} as built: the error along a ramp of {} then {}, along a parabola of {} \
         it {}.",
        low_end.name(),
        constants.kind,
        units.one_per_second(1),
        left(constants.ramp_error),
        units.one_per_second(2),
        left(constants.parabola_error)
    )
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
