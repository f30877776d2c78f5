//! The closed loop in time, as it is told.

use super::TracedLoop;
use crate::design::{PlantUnits, ServoDesign, with_unit};
use crate::feedback::{ErrorConstants, Motion, OpenLoop, Traced};
use crate::outcome::{MotionOutcome, OtherLowEnd, Outcome};
use crate::plant::{Decision, LowEnd, Plant};
use crate::quantity::{Unit, rounded};
use crate::solve::at_once::AtOnce;
use crate::solve::task::{Asked, Blocked};

/// Samples that are drawn, about.
const DRAWN: usize = 800;
/// The first samples are all kept: the drive is quick there.
const FIRST: usize = 80;

/// All that moving the loop reads.
#[derive(PartialEq)]
pub(in crate::solve) struct MotionReads {
    traced: TracedLoop,
    /// What it is moved by, and units; all else is blank.
    servo: ServoDesign,
}

/// The closed loop, moved.
#[derive(Default)]
pub(in crate::solve) struct MovedLoop;

impl AtOnce for MovedLoop {
    const FIELD: &'static str = "motion";
    type Reads = MotionReads;
    type Finds = MotionOutcome;

    fn reads(asked: &Asked) -> Result<Option<MotionReads>, Blocked> {
        let traced = TracedLoop::reads(asked)?;
        Ok(traced.map(|traced| MotionReads {
            traced,
            servo: ServoDesign {
                motion: asked.design.servo.motion.clone(),
                units: asked.design.servo.units.clone(),
                ..ServoDesign::default()
            },
        }))
    }

    fn find(&mut self, reads: &MotionReads) -> MotionOutcome {
        let TracedLoop { of, curve } = &reads.traced;
        let fitted = of.plant.fitted.as_ref();
        // A model that is used as it stands was decided by whoever gave it.
        let decision = fitted.and_then(|fitted| fitted.decision.as_ref());
        describe(&of.open(), curve, &reads.servo, decision)
    }

    fn tell(_: &MotionReads, found: &MotionOutcome, outcome: &mut Outcome) {
        outcome.motion = Some(found.clone());
    }
}

/// `traced` is the loop's whole curve; `decision` what the sweep says of the plant's low end.
fn describe(
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
    let told = match undecided {
        None => constants.sentences(&servo.units),
        Some(decision) => of_each(decision, &constants, &otherwise, &servo.units),
    };
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

/// The loop's type where the sweep leaves it open: what each low end would make of it, the model's own first, and none
/// claimed.
fn of_each(
    decision: &Decision,
    constants: &ErrorConstants,
    otherwise: &[OtherLowEnd],
    units: &PlantUnits,
) -> Vec<String> {
    let own = decision.low_end;
    if !decision.is_followed {
        let mut told = vec![
            "The model does not follow the sweep: how many integrators the plant has at DC, and so the loop’s type, is open. \
             Figures and curves here are those of the model, and not of the plant."
                .to_owned(),
        ];
        told.extend(constants.sentences_of_no_type(units, decision.from));
        return told;
    }
    let mut told = vec![format!(
        "The sweep, which begins at {}, does not decide how many integrators the plant has at DC: the loop's type is \
         open. Figures and curves here are those of {}.",
        rounded(decision.from, Unit::Hertz, 2),
        own.name()
    )];
    told.push(sentence(own, constants, units));
    let others = otherwise.iter();
    told.extend(others.map(|other| sentence(other.low_end, &other.constants, units)));
    told.push(
        "Measure lower frequencies to decide, or set “Low-frequency model” where you know the plant."
            .to_owned(),
    );
    told.extend(constants.sentences_of_no_type(units, decision.from));
    told
}

/// What a low end leaves of an error.
fn sentence(low_end: LowEnd, constants: &ErrorConstants, units: &PlantUnits) -> String {
    let left = |error: Option<f64>| {
        error.map_or("grows without bound".to_owned(), |error| {
            let error = with_unit(rounded(error.abs(), Unit::One, 3), &units.output);
            format!("is {error}")
        })
    };
    format!(
        "If it is {}, the loop is of type {} as built: the error after a step of {} {}, along a ramp of {} it {}, along a \
         parabola of {} it {}.",
        low_end.name(),
        constants.kind,
        with_unit("1".to_owned(), &units.output),
        left(constants.step_error),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_answer_is_told_in_the_outputs_unit() {
        let constants = ErrorConstants {
            kind: 1,
            kp: None,
            kv: Some(8.0),
            ka: Some(0.0),
            step_error: Some(0.0),
            ramp_error: Some(0.125),
            parabola_error: None,
            disturbance_error: None,
            bands: Vec::new(),
        };
        let told = |output: &str| {
            let units = PlantUnits {
                output: output.to_owned(),
                ..PlantUnits::default()
            };
            sentence(LowEnd::Friction, &constants, &units)
        };
        assert_eq!(
            told("rad"),
            "If it is inertia with friction, the loop is of type 1 as built: the error after a step of 1 rad is 0 rad, along \
             a ramp of 1 rad/s it is 0.125 rad, along a parabola of 1 rad/s² it grows without bound."
        );
        assert!(told("").contains("a step of 1 is 0, along a ramp of 1 per s it is 0.125,"));
    }
}
