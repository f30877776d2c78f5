//! All fields of a design, in groups.

use super::Design;
use super::field::{Field, Kind, Step};
use crate::parts::Series;
use crate::quantity::Unit;
use crate::stages::{Ask, by_id};

/// A set of fields that stand together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    Ask,
    Limits,
    Resistors,
    Capacitors,
    OpAmp,
    Spread,
    View,
    /// Pins, one a part in the netlist's order.
    Pins,
}

const LOG: Step = Step::Along {
    series: Series::E24,
};

/// Every field of this design with its group.
pub fn fields(design: &Design) -> Vec<(Group, Field)> {
    let mut all = Vec::new();
    for (index, stage) in design.stages.iter().enumerate() {
        let at = format!("/stages/{index}");
        match &stage.ask {
            Ask::Notch(_) => notch(&mut all, &at),
        }
        if let Some(circuit) = by_id(&stage.circuit) {
            for part in circuit.netlist().parts() {
                let unit = match part.kind {
                    crate::circuit::Kind::Resistor { .. } => Unit::Ohm,
                    crate::circuit::Kind::Capacitor { .. } => Unit::Farad,
                    crate::circuit::Kind::OpAmp { .. } => continue,
                };
                all.push((Group::Pins, pin(design, &at, &part.name, unit)));
            }
        }
    }
    bin(
        &mut all,
        Group::Resistors,
        "/shelf/resistors",
        Unit::Ohm,
        0.01,
        100e6,
    );
    bin(
        &mut all,
        Group::Capacitors,
        "/shelf/capacitors",
        Unit::Farad,
        0.1e-12,
        1e-3,
    );
    op_amp(&mut all);
    spread(&mut all);
    view(&mut all);
    all
}

fn quantity(
    path: String,
    label: &str,
    unit: Unit,
    range: (f64, f64),
    step: Step,
    help: &'static str,
) -> Field {
    Field {
        path,
        label: label.to_owned(),
        kind: Kind::Quantity {
            unit,
            lowest: range.0,
            highest: range.1,
            step,
            empty: None,
            whole: false,
        },
        help,
    }
}

fn whole(mut field: Field) -> Field {
    if let Kind::Quantity { whole, .. } = &mut field.kind {
        *whole = true;
    }
    field
}

fn or_empty(mut field: Field, words: &'static str) -> Field {
    if let Kind::Quantity { empty, .. } = &mut field.kind {
        *empty = Some(words);
    }
    field
}

fn notch(all: &mut Vec<(Group, Field)>, at: &str) {
    let path = |name: &str| format!("{at}/ask/{name}");
    let mut add = |group, field| all.push((group, field));
    add(
        Group::Ask,
        quantity(
            path("frequency"),
            "Notch frequency",
            Unit::Hertz,
            (0.01, 10e6),
            LOG,
            "Where the curve shall be deepest.",
        ),
    );
    add(
        Group::Ask,
        quantity(
            path("q"),
            "Q",
            Unit::One,
            (0.1, 200.0),
            LOG,
            "Notch frequency over the width between the −3 dB edges.",
        ),
    );
    add(
        Group::Ask,
        or_empty(
            quantity(
                path("depth"),
                "Depth",
                Unit::Decibel,
                (6.0, 120.0),
                Step::By { amount: 1.0 },
                "Attenuation at the deepest point; empty for a full null.",
            ),
            "full null",
        ),
    );
    add(
        Group::Limits,
        quantity(
            path("frequency_limit"),
            "Frequency ±",
            Unit::Percent,
            (1e-4, 0.5),
            LOG,
            "A board whose notch frequency is further off is bad.",
        ),
    );
    add(
        Group::Limits,
        quantity(
            path("q_limit"),
            "Q ±",
            Unit::Percent,
            (1e-4, 0.9),
            LOG,
            "A board whose Q is further off is bad.",
        ),
    );
    add(
        Group::Limits,
        quantity(
            path("least_depth"),
            "Least attenuation",
            Unit::Decibel,
            (3.5, 120.0),
            Step::By { amount: 1.0 },
            "What the asked frequency itself must lose on every good board.",
        ),
    );
}

fn pin(design: &Design, at: &str, name: &str, unit: Unit) -> Field {
    let (bin, range) = match unit {
        Unit::Farad => (&design.shelf.capacitors, (0.1e-12, 1e-3)),
        _ => (&design.shelf.resistors, (0.01, 100e6)),
    };
    let step = Step::Along { series: bin.series };
    or_empty(
        quantity(
            format!("{at}/pins/{name}"),
            &format!("Pin {name}"),
            unit,
            range,
            step,
            "Keeps this part at a value; the others are picked around it.",
        ),
        "",
    )
}

fn bin(
    all: &mut Vec<(Group, Field)>,
    group: Group,
    at: &str,
    unit: Unit,
    smallest: f64,
    largest: f64,
) {
    let what = if unit == Unit::Ohm {
        "resistor"
    } else {
        "capacitor"
    };
    let path = |name: &str| format!("{at}/{name}");
    let mut add = |field| all.push((group, field));
    add(Field {
        path: path("series"),
        label: format!("Series of {what}s"),
        kind: Kind::Choice {
            options: vec![
                ("E3", "E3"),
                ("E6", "E6"),
                ("E12", "E12"),
                ("E24", "E24"),
                ("E48", "E48"),
                ("E96", "E96"),
                ("E192", "E192"),
            ],
        },
        help: "Preferred values of IEC 60063.",
    });
    add(quantity(
        path("lowest"),
        &format!("Lowest {what}"),
        unit,
        (smallest, largest),
        LOG,
        "The smallest value bought.",
    ));
    add(quantity(
        path("highest"),
        &format!("Highest {what}"),
        unit,
        (smallest, largest),
        LOG,
        "The largest value bought.",
    ));
    add(quantity(
        path("tolerance"),
        &format!("Tolerance of {what}s ±"),
        Unit::Percent,
        (0.0, 0.8),
        LOG,
        "Largest deviation as delivered.",
    ));
    add(quantity(
        path("tempco"),
        &format!("Tempco of {what}s ±"),
        Unit::PpmPerKelvin,
        (0.0, 0.01),
        LOG,
        "Largest drift with temperature, either way.",
    ));
    add(Field {
        path: path("list"),
        label: format!(
            "{}s at hand",
            if unit == Unit::Ohm {
                "Resistor"
            } else {
                "Capacitor"
            }
        ),
        kind: Kind::List {
            unit,
            lowest: smallest,
            highest: largest,
        },
        help: "Paste values to pick from these only; empty to use the series.",
    });
}

fn op_amp(all: &mut Vec<(Group, Field)>) {
    let mut add = |field| all.push((Group::OpAmp, field));
    add(quantity(
        "/op_amp/gain_bandwidth".into(),
        "Gain-bandwidth",
        Unit::Hertz,
        (1e3, 1e12),
        LOG,
        "Gain-bandwidth product from the data sheet.",
    ));
    add(quantity(
        "/op_amp/gain_db".into(),
        "Open-loop gain",
        Unit::Decibel,
        (20.0, 200.0),
        Step::By { amount: 1.0 },
        "Gain at DC.",
    ));
    add(quantity(
        "/op_amp/output_resistance".into(),
        "Output resistance",
        Unit::Ohm,
        (0.0, 100e3),
        LOG,
        "Open-loop output resistance.",
    ));
}

fn spread(all: &mut Vec<(Group, Field)>) {
    let mut add = |field| all.push((Group::Spread, field));
    add(whole(quantity(
        "/spread/boards".into(),
        "Boards",
        Unit::One,
        (100.0, 1e6),
        LOG,
        "How many boards are drawn.",
    )));
    add(Field {
        path: "/spread/law".into(),
        label: "Law".into(),
        kind: Kind::Choice {
            options: vec![
                ("uniform", "uniform within the tolerance"),
                ("normal", "normal, tolerance at 3 sigma"),
            ],
        },
        help: "How a part's value lies within its tolerance.",
    });
    add(quantity(
        "/spread/temperature_span".into(),
        "Temperature ±",
        Unit::Kelvin,
        (0.0, 200.0),
        Step::By { amount: 1.0 },
        "Boards work this far above or below the temperature at which parts are measured.",
    ));
    add(whole(quantity(
        "/spread/seed".into(),
        "Seed",
        Unit::One,
        (0.0, 4e9),
        Step::By { amount: 1.0 },
        "The same seed draws the same boards.",
    )));
}

fn view(all: &mut Vec<(Group, Field)>) {
    let mut add = |field| all.push((Group::View, field));
    add(quantity(
        "/view/phase_at".into(),
        "Phase read at",
        Unit::Hertz,
        (1e-3, 1e9),
        LOG,
        "The loop's crossover, say: what the stage costs there.",
    ));
    add(quantity(
        "/view/decades".into(),
        "Decades to each side",
        Unit::One,
        (0.2, 3.0),
        Step::By { amount: 0.1 },
        "How much of the curve is drawn.",
    ));
}
