//! The fields of the plant and the loop.

use super::super::field::{Field, Kind, Step};
use super::super::limits::{FREQUENCIES, LEVELS, MARGINS};
use super::super::{Design, ServoDesign, ShapeForm, labelled};
use super::plant::plant;
use super::{Group, LOG, choice, or_empty, quantity};
use crate::compensation::ControllerForm;
use crate::feedback::range::{FREQUENCY_SHARES, SHARES};
use crate::feedback::{MotionAsk, Stimulus};
use crate::quantity::Unit;

/// Those of the loop and of the fit, and of a model that is used as it stands.
pub(super) fn servo(all: &mut Vec<(Group, Field)>, design: &Design) {
    if !design.servo.has_plant() {
        return;
    }
    asked(all);
    drift(all);
    motion(all, &design.servo);
    if design.servo.advice.is_some() {
        advice(all);
    }
    if let Some(ask) = design.servo.shape {
        shape(all, ask.form);
    }
    if let Some(ask) = &design.servo.whole {
        super::whole::whole(all, &design.servo, ask);
    }
    plant(all, &design.servo);
}

fn asked(all: &mut Vec<(Group, Field)>) {
    let mut add = |field| all.push((Group::Loop, field));
    add(choice(
        "/servo/summing",
        "Summing point",
        &[
            ("subtracts", "subtracts the feedback"),
            ("adds", "adds the feedback"),
        ],
        "Adding is right where path and plant invert once in all.",
    ));
    let by = |amount| Step::By { amount };
    add(quantity(
        "/servo/asked/phase_margin".into(),
        "Minimum phase margin",
        Unit::Degree,
        (0.0, 120.0),
        by(5.0),
        "At every frequency where the loop's gain is 1.",
    ));
    add(quantity(
        "/servo/asked/gain_margin_db".into(),
        "Minimum gain margin",
        Unit::Decibel,
        (0.0, 60.0),
        by(1.0),
        "The gain may rise by this factor; where a lower gain is the danger, it may fall by it.",
    ));
    add(quantity(
        "/servo/asked/sensitivity".into(),
        "Maximum sensitivity",
        Unit::One,
        (1.0, 100.0),
        by(0.1),
        "M_s, the largest |1/(1 + L)|: one over the smallest distance to −1.",
    ));
    add(or_empty(
        quantity(
            "/servo/asked/settling".into(),
            "Maximum settling time",
            Unit::Second,
            (1e-9, 1e6),
            LOG,
            "After a step, of every board, within the settling band of the time response.",
        ),
        "no limit",
    ));
    add(quantity(
        "/servo/asked/reject_at".into(),
        "Disturbance rejection at",
        Unit::Hertz,
        FREQUENCIES,
        LOG,
        "How far a disturbance at this frequency is attenuated.",
    ));
}

fn drift(all: &mut Vec<(Group, Field)>) {
    let mut add = |name: &str, label: &str, range, help| {
        let path = format!("/servo/drift/{name}");
        let step = Step::By { amount: 0.01 };
        let field = quantity(path, label, Unit::Percent, range, step, help);
        all.push((Group::Drift, field));
    };
    add(
        "frequency",
        "Mode frequencies ±",
        // Designs of all versions may have this much; help with a notch wants less, and says so.
        (0.0, 0.9),
        "From unit to unit, each mode for itself.",
    );
    add(
        "damping",
        "Mode damping ±",
        SHARES,
        "From unit to unit, each mode for itself.",
    );
    add(
        "gain",
        "Plant gain ±",
        SHARES,
        "Of drive, actuator and sensor together.",
    );
    all.push((
        Group::Drift,
        Field {
            path: "/servo/drift/law".into(),
            label: "Plant distribution".into(),
            kind: Kind::choice(vec![
                ("uniform", "uniform within these"),
                ("normal", "normal, these at three sigma"),
            ]),
            help: "How plants are distributed within their limits.",
        },
    ));
}

fn advice(all: &mut Vec<(Group, Field)>) {
    let mut add = |name: &str, label: &str, unit, range, step, help| {
        let path = format!("/servo/advice/{name}");
        all.push((
            Group::Advice,
            quantity(path, label, unit, range, step, help),
        ));
    };
    add(
        "level_db",
        "Open-loop peak limit",
        Unit::Decibel,
        LEVELS,
        Step::By { amount: 1.0 },
        "The open loop's gain over the whole drift; −6 dB leaves a gain margin of 6 dB.",
    );
    let step = Step::By { amount: 0.01 };
    add(
        "notch_frequency",
        "Notch frequency ±",
        Unit::Percent,
        FREQUENCY_SHARES,
        step,
        "From board to board: what the notch's own parts do.",
    );
    add(
        "notch_q",
        "Notch Q ±",
        Unit::Percent,
        SHARES,
        step,
        "From board to board: what the notch's own parts do.",
    );
}

fn shape(all: &mut Vec<(Group, Field)>, form: ShapeForm) {
    all.push((
        Group::Shape,
        choice(
            "/servo/shape/form",
            "Controller",
            &[("pid", "PID"), ("lead", "lead")],
            "A PID leaves no steady-state error; a lead passes less noise, and leaves what error the plant leaves.",
        ),
    ));
    let mut add = |name: &str, label: &str, unit, range, step, help| {
        let path = format!("/servo/shape/{name}");
        all.push((Group::Shape, quantity(path, label, unit, range, step, help)));
    };
    add(
        "crossover",
        "Target crossover",
        Unit::Hertz,
        FREQUENCIES,
        LOG,
        "Where the loop's gain shall be 1.",
    );
    add(
        "phase_margin",
        "Target phase margin",
        Unit::Degree,
        MARGINS,
        Step::By { amount: 1.0 },
        "At the target crossover.",
    );
    if form == ShapeForm::Lead {
        return;
    }
    let share = Step::By { amount: 0.01 };
    add(
        "integrator",
        "Integrator corner / crossover",
        Unit::One,
        ControllerForm::INTEGRATORS,
        share,
        "A tenth costs 6° of phase.",
    );
    add(
        "roll_off",
        "Roll-off corner / crossover",
        Unit::One,
        ControllerForm::ROLL_OFFS,
        Step::By { amount: 1.0 },
        "Ten times costs 6° of phase.",
    );
}

fn motion(all: &mut Vec<(Group, Field)>, servo: &ServoDesign) {
    let units = &servo.units;
    let (amplitude, of) = match servo.motion.stimulus {
        Stimulus::Ramp => (units.output_per_second(1), "Speed of the ramp."),
        Stimulus::Parabola => (units.output_per_second(2), "Acceleration of the parabola."),
        Stimulus::Disturbance => (units.input.clone(), "Step at the plant's input."),
        Stimulus::Step => (units.output.clone(), "Height of the step."),
        Stimulus::Trajectory { .. } => (String::new(), "Factor on the rows' positions."),
    };
    let mut add = |field| all.push((Group::Motion, field));
    let path = |name: &str| format!("/servo/motion/{name}");
    add(quantity(
        path("amplitude"),
        &labelled("Amplitude", &amplitude),
        Unit::One,
        MotionAsk::AMPLITUDES,
        LOG,
        of,
    ));
    add(or_empty(
        quantity(
            path("saturation"),
            &labelled("Drive saturates at", &units.input),
            Unit::One,
            (1e-9, 1e9),
            LOG,
            "Either way; beyond it the linear answer no longer holds.",
        ),
        "no limit",
    ));
    add(quantity(
        path("settle_band"),
        "Settling band ±",
        Unit::Percent,
        MotionAsk::SETTLE_BANDS,
        Step::By { amount: 0.01 },
        "A part of the step: the error must stay within it.",
    ));
    add(or_empty(
        quantity(
            path("span"),
            "Duration",
            Unit::Second,
            MotionAsk::SPANS,
            LOG,
            "Empty for as long as the loop needs to settle.",
        ),
        "as needed",
    ));
}
