//! The fields of the loop as a whole.

use super::super::field::{Field, Step};
use super::super::limits::{FREQUENCIES, LEVELS, MARGINS};
use super::super::{ServoDesign, WholeAsk, WholeForm};
use super::{Group, LOG, choice, or_empty, quantity};
use crate::compensation::ControllerForm;
use crate::feedback::range::FREQUENCY_SHARES;
use crate::quantity::Unit;

pub(super) fn whole(all: &mut Vec<(Group, Field)>, servo: &ServoDesign, ask: &WholeAsk) {
    let mut add = |field| all.push((Group::Whole, field));
    let path = |name: &str| format!("/servo/whole/{name}");
    let by = |amount| Step::By { amount };
    add(quantity(
        path("crossover"),
        "Loop crossover",
        Unit::Hertz,
        FREQUENCIES,
        LOG,
        "Where the loop's gain shall be 1, controller and notches in it.",
    ));
    add(quantity(
        path("phase_margin"),
        "Loop phase margin",
        Unit::Degree,
        MARGINS,
        by(1.0),
        "At the crossover, with the phase cost of the notches.",
    ));
    add(quantity(
        path("level_db"),
        "Peak limit",
        Unit::Decibel,
        LEVELS,
        by(1.0),
        "The open loop's gain over each mode's whole drift; −6 dB leaves a gain margin of 6 dB.",
    ));
    let modes = match &servo.model {
        Some(model) => model.modes.len(),
        None => servo.fit.most_modes,
    };
    for mode in 0..modes {
        add(or_empty(
            quantity(
                path(&format!("levels_db/{mode}")),
                &format!("Peak limit of mode {}", mode + 1),
                Unit::Decibel,
                LEVELS,
                by(1.0),
                "For this mode alone; empty for the common limit.",
            ),
            "common limit",
        ));
    }
    add(or_empty(
        quantity(
            path("quiet_from"),
            "Roll-off limit from",
            Unit::Hertz,
            FREQUENCIES,
            LOG,
            "From here on the open loop's gain must stay below the roll-off limit; empty for none.",
        ),
        "no limit",
    ));
    if ask.quiet_from.is_some() {
        add(quantity(
            path("quiet_db"),
            "Roll-off limit",
            Unit::Decibel,
            (-120.0, 0.0),
            by(1.0),
            "Largest gain of the open loop from that frequency on.",
        ));
    }
    add(choice(
        &path("form"),
        "Loop controller",
        &[
            ("automatic", "what suits the plant"),
            ("integrator", "integrator"),
            ("pi", "PI"),
            ("pi-roll-off", "PI with roll-off"),
            ("pd", "PD"),
            ("lead", "lead"),
            ("pid", "PID"),
        ],
        "What suits depends on the plant's integrators, its phase at the crossover and its first mode.",
    ));
    let form = ask.form;
    if matches!(form, WholeForm::Automatic | WholeForm::Pid) {
        add(quantity(
            path("integrator"),
            "PID integrator corner / crossover",
            Unit::One,
            ControllerForm::INTEGRATORS,
            by(0.01),
            "Of a PID; a tenth costs 6° of phase.",
        ));
    }
    if !matches!(
        form,
        WholeForm::Integrator | WholeForm::Pi | WholeForm::Lead
    ) {
        add(quantity(
            path("roll_off"),
            "Controller roll-off corner / crossover",
            Unit::One,
            ControllerForm::ROLL_OFFS,
            by(1.0),
            "Of a PID, a PD and a PI that has one; ten times costs 6° of phase.",
        ));
    }
    let boards = "From board to board: what the notches' own parts do.";
    for (name, label) in [
        ("notch_frequency", "Notch frequencies ±"),
        ("notch_q", "Notch Qs ±"),
    ] {
        add(quantity(
            path(name),
            label,
            Unit::Percent,
            FREQUENCY_SHARES,
            by(0.01),
            boards,
        ));
    }
}
