//! Advice on a resonance, and a controller for a wanted crossover.

use crate::design::{AdviceAsk, Design, ShapeAsk};
use crate::outcome::{ControllerHelp, HelpOutcome, NotchHelp};
use crate::quantity::{Unit, rounded};
use crate::response::Transfer;
use crate::servo::{
    ControllerForm, Model, NotchWish, OpenLoop, Plant, PlantStrays, ShapeWish, advise, shape,
};
use crate::stages::Ask;

/// A notch in the path this near to a resonance, as a fraction, is there for its sake.
const NEAR: f64 = 0.25;

/// The help that a design asks for; `stages` are the path's, as they are built.
pub(super) fn describe(
    design: &Design,
    stages: &[&Transfer],
    plant: &Model,
    sign: f64,
) -> HelpOutcome {
    let without = |left_out: Option<usize>| OpenLoop {
        stages: stages
            .iter()
            .enumerate()
            .filter(|(place, _)| Some(*place) != left_out)
            .map(|(_, stage)| *stage)
            .collect(),
        plant: Plant::Model(plant),
        sign,
    };
    let place_of = |test: &dyn Fn(&Ask) -> bool| design.stages.iter().position(|s| test(&s.ask));
    HelpOutcome {
        notch: design.servo.advice.map(|ask| {
            let frequency = plant.modes.get(ask.mode).map_or(0.0, |mode| mode.frequency);
            let is_near = |ask: &Ask| match ask {
                Ask::Notch(notch) => (notch.frequency / frequency - 1.0).abs() < NEAR,
                _ => false,
            };
            let replaces = place_of(&is_near);
            notch(design, ask, &without(replaces), replaces)
        }),
        controller: design.servo.shape.map(|ask| {
            let replaces = place_of(&|ask| matches!(ask, Ask::Pid(_)));
            controller(ask, &without(replaces), replaces)
        }),
    }
}

fn notch(design: &Design, ask: AdviceAsk, open: &OpenLoop, replaces: Option<usize>) -> NotchHelp {
    let servo = &design.servo;
    let wish = NotchWish {
        mode: ask.mode,
        strays: PlantStrays {
            frequency: servo.drift.frequency,
            damping: servo.drift.damping,
            gain: servo.drift.gain,
        },
        notch_frequency: ask.notch_frequency,
        notch_q: ask.notch_q,
        level: NotchWish::level_of(-ask.level_db),
        crossover: None,
        phase_margin: servo.asked.phase_margin,
        sensitivity: servo.asked.sensitivity,
    };
    let left_out = replaces.map(|place| {
        format!(
            "Stage {} of the path, a notch near this mode, is left out here.",
            place + 1
        )
    });
    let (told, found) = match advise(open, &wish) {
        Ok(advice) => (advice.told, advice.notch),
        Err(error) => (vec![error.to_string()], None),
    };
    NotchHelp {
        told: left_out.into_iter().chain(told).collect(),
        ask: found.map(|notch| notch.ask(&wish)),
        cost_deg: found.map(|notch| notch.cost_deg),
        replaces,
    }
}

fn controller(ask: ShapeAsk, open: &OpenLoop, replaces: Option<usize>) -> ControllerHelp {
    let wish = ShapeWish {
        crossover: ask.crossover,
        phase_margin: ask.phase_margin,
        form: ControllerForm::Pid {
            integrator: ask.integrator,
            roll_off: ask.roll_off,
        },
    };
    match shape(open, &wish) {
        Ok(shaped) => {
            let mut told = vec![format!(
                "The PID makes {} of phase at {}.",
                rounded(shaped.phase_deg, Unit::Degree, 3),
                rounded(ask.crossover, Unit::Hertz, 4),
            )];
            if let Some((peak, _)) = shaped.margins.sensitivity_peak {
                told.push(format!("The loop's sensitivity then peaks at {peak:.2}."));
            }
            told.extend(shaped.warnings);
            ControllerHelp {
                told,
                ask: shaped.controller.pid_ask(),
                adds: shaped.adds,
                replaces,
            }
        }
        Err(error) => ControllerHelp {
            told: vec![error.to_string()],
            ask: None,
            adds: false,
            replaces,
        },
    }
}
