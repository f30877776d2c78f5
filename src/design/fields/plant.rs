//! The fields of the plant: its units, how a model is fitted to its sweep, and a model that is used as it stands.

use super::super::field::{Field, Kind, Step};
use super::super::{PlantUnits, ServoDesign, labelled};
use super::{Group, LOG, choice, or_empty, quantity, whole};
use crate::plant::sweep::FREQUENCIES;
use crate::plant::{Model, Settings};
use crate::quantity::Unit;

pub(super) fn plant(all: &mut Vec<(Group, Field)>, servo: &ServoDesign) {
    units(all);
    if !servo.sweep.is_empty() {
        fit(all, servo);
    }
    if let Some(model) = &servo.model {
        self::model(all, model, &servo.units);
    }
}

fn units(all: &mut Vec<(Group, Field)>) {
    let mut add = |name: &str, label: &str, help| {
        all.push((
            Group::Units,
            Field {
                path: format!("/servo/units/{name}"),
                label: label.to_owned(),
                kind: Kind::Text {
                    longest: PlantUnits::LONGEST,
                    lines: false,
                },
                help,
            },
        ));
    };
    add(
        "output",
        "Output unit",
        "Unit of the plant's output, as µm or rad. It stands beside the loop's numbers.",
    );
    add(
        "input",
        "Input unit",
        "Unit of the plant's input, as V or A.",
    );
}

fn fit(all: &mut Vec<(Group, Field)>, servo: &ServoDesign) {
    let mut add = |field| all.push((Group::Fit, field));
    let edge = |name: &str, label: &str, help| {
        let path = format!("/servo/fit/{name}");
        or_empty(
            quantity(path, label, Unit::Hertz, FREQUENCIES, LOG, help),
            "all",
        )
    };
    add(edge(
        "from",
        "Fit from",
        "Points below count nothing for the model.",
    ));
    add(edge(
        "to",
        "Fit up to",
        "Points above count nothing for the model.",
    ));
    // A model to start from has its low end and its modes.
    if servo.fit.start.is_none() {
        add(choice(
            "/servo/fit/low_end",
            "Low-frequency model",
            &[
                ("", "decided by the sweep"),
                ("spring", "position held by a spring"),
                ("constant", "constant gain beside the modes"),
                ("friction", "inertia with viscous friction"),
                ("inertia", "inertia alone, 1/s²"),
                ("integrator", "speed, 1/s"),
                ("lag", "speed or current with a lag"),
            ],
            "What the plant does below its modes. It decides the loop's type, and so what error a ramp or a parabola leaves.",
        ));
        add(whole(quantity(
            "/servo/fit/most_modes".into(),
            "Maximum number of modes",
            Unit::One,
            (0.0, Settings::MOST_MODES as f64),
            Step::By { amount: 1.0 },
            "Fewer are fitted where fewer explain the sweep.",
        )));
    }
}

fn model(all: &mut Vec<(Group, Field)>, model: &Model, units: &PlantUnits) {
    let path = |name: &str| format!("/servo/model/{name}");
    let signed = |range: f64| (-range, range);
    let step = Step::By { amount: 1.0 };
    if let Some(rigid) = model.rigid {
        let mut add = |field| all.push((Group::Rigid, field));
        add(whole(quantity(
            path("rigid/integrators"),
            "Integrators",
            Unit::One,
            (0.0, 2.0),
            step,
            "2 for the position of a body, 1 for its speed, 0 for a constant.",
        )));
        add(quantity(
            path("rigid/gain"),
            &labelled("Rigid gain", &units.ratio_times_rate(rigid.integrators)),
            Unit::One,
            signed(1e15),
            LOG,
            "Above the friction corner and below the modes the plant is this over sⁿ, n its integrators.",
        ));
        add(or_empty(
            quantity(
                path("rigid/friction"),
                "Friction corner",
                Unit::Hertz,
                (1e-9, 1e12),
                LOG,
                "Friction over 2π times inertia; below it there is one integrator less.",
            ),
            "none",
        ));
    }
    for index in 0..model.modes.len() {
        mode(all, index, units);
    }
    let mut add = |field| all.push((Group::Rigid, field));
    add(quantity(
        path("delay"),
        "Delay",
        Unit::Second,
        (0.0, 10.0),
        LOG,
        "Of sensor, converter or transport.",
    ));
    add(or_empty(
        quantity(
            path("lag"),
            "Lag corner",
            Unit::Hertz,
            (1e-3, 1e12),
            LOG,
            "One first-order lag of coil, drive or sensor.",
        ),
        "none",
    ));
}

fn mode(all: &mut Vec<(Group, Field)>, index: usize, units: &PlantUnits) {
    let path = |name: &str| format!("/servo/model/modes/{index}/{name}");
    let label = |what: &str| format!("Mode {} {what}", index + 1);
    let mut add = |field| all.push((Group::Mode(index), field));
    add(quantity(
        path("frequency"),
        &label("frequency"),
        Unit::Hertz,
        FREQUENCIES,
        LOG,
        "Undamped natural frequency.",
    ));
    add(quantity(
        path("damping"),
        &label("damping"),
        Unit::One,
        (1e-5, 10.0),
        LOG,
        "Damping ratio ζ; the peak stands 1/(2ζ) above the mode's own line.",
    ));
    add(quantity(
        path("residue"),
        &labelled(&label("residue"), &units.ratio_times_rate(2)),
        Unit::One,
        (-1e18, 1e18),
        LOG,
        "Modal constant; negative where sensor and drive move against each other.",
    ));
    add(quantity(
        path("slope"),
        &labelled(&label("slope"), &units.ratio_times_rate(1)),
        Unit::One,
        (-1e15, 1e15),
        LOG,
        "Part of the residue that grows with s; 0 for a structure with proportional damping.",
    ));
}
