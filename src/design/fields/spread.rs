//! How parts stray, and how boards are drawn.

use super::{Field, Group, Kind, LOG, or_empty, quantity, whole};
use crate::design::limits::{AGEINGS, HOLES, TEMPCOS, TOLERANCES};
use crate::design::{Design, KindSpread, Stop};
use crate::quantity::Unit;
use crate::spread::Law;
use crate::stages::Step;

pub fn spread(all: &mut Vec<(Group, Field)>, design: &Design) {
    run(all, design.spread.stop);
    kind(
        all,
        Group::ResistorSpread,
        "resistors",
        &design.spread.resistors,
    );
    kind(
        all,
        Group::CapacitorSpread,
        "capacitors",
        &design.spread.capacitors,
    );
    op_amps(all, design);
    for index in 0..design.spread.networks.len() {
        network(all, index);
    }
}

fn run(all: &mut Vec<(Group, Field)>, stop: Stop) {
    let mut add = |field| all.push((Group::Spread, field));
    add(Field {
        path: "/spread/stop".into(),
        label: "Stopping rule".into(),
        kind: Kind::choice(vec![
            ("fixed", "a fixed number of boards"),
            ("stable", "until figures and yield are stable"),
        ]),
        help: "The second stops by itself (JCGM 101, 7.9).",
    });
    let (label, help) = match stop {
        Stop::Fixed => ("Boards", "How many boards are drawn."),
        Stop::Stable => ("Maximum number of boards", "It stops here, stable or not."),
    };
    add(whole(quantity(
        "/spread/boards".into(),
        label,
        Unit::One,
        (100.0, 1e6),
        LOG,
        help,
    )));
    if stop == Stop::Stable {
        add(whole(quantity(
            "/spread/digits".into(),
            "Stable significant digits",
            Unit::One,
            (1.0, 2.0),
            Step::By { amount: 1.0 },
            "Significant digits of each figure's standard deviation.",
        )));
        add(quantity(
            "/spread/yield_within".into(),
            "Yield interval ±",
            Unit::Percent,
            (0.0005, 0.1),
            LOG,
            "Half the width of its 95 % interval.",
        ));
    }
    add(quantity(
        "/spread/temperature_span".into(),
        "Temperature ±",
        Unit::Kelvin,
        (0.0, 200.0),
        Step::By { amount: 1.0 },
        "Boards work this far above or below the temperature at which parts are measured.",
    ));
    add(quantity(
        "/spread/wanted".into(),
        "Target yield",
        Unit::Percent,
        (0.01, 0.9999),
        Step::By { amount: 0.01 },
        "What proposals aim at.",
    ));
    add(quantity(
        "/spread/trimmed".into(),
        "Trim coverage",
        Unit::Percent,
        (0.5, 0.9999),
        Step::By { amount: 0.01 },
        "The share of boards that a trimmer must bring to a figure's target.",
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

/// The laws that parts may follow.
fn laws() -> Vec<(&'static str, &'static str)> {
    vec![
        ("uniform", "uniform within the tolerance"),
        ("normal", "normal, cut at the tolerance"),
    ]
}

fn sigmas(path: String, label: &str) -> Field {
    quantity(
        path,
        label,
        Unit::One,
        (0.5, 10.0),
        Step::By { amount: 0.5 },
        "How many standard deviations the tolerance is.",
    )
}

fn kind(all: &mut Vec<(Group, Field)>, group: Group, what: &str, now: &KindSpread) {
    let path = |name: &str| format!("/spread/{what}/{name}");
    let share = |name: &str, label: String, range, help| {
        let step = Step::By { amount: 0.05 };
        quantity(path(name), &label, Unit::Percent, range, step, help)
    };
    let mut add = |field| all.push((group, field));
    add(Field {
        path: path("law"),
        label: format!("Distribution of {what}"),
        kind: Kind::choice(laws()),
        help: "How a part's value is distributed within its tolerance.",
    });
    if now.law == Law::Normal {
        add(sigmas(path("sigmas"), "Tolerance in sigmas"));
    }
    add(share(
        "hole",
        format!("Tighter grade of {what} removed within"),
        HOLES,
        "The share of the tolerance that holds no parts, because they were sold as a tighter grade.",
    ));
    add(share(
        "lot",
        format!("Common to one lot of {what}"),
        (0.0, 1.0),
        "The share of deviation and drift that all of a board have in common.",
    ));
    add(quantity(
        path("ageing"),
        &format!("Ageing of {what} ±"),
        Unit::Percent,
        AGEINGS,
        LOG,
        "Largest change over the product's life.",
    ));
}

fn op_amps(all: &mut Vec<(Group, Field)>, design: &Design) {
    let path = |name: &str| format!("/spread/op_amps/{name}");
    let mut add = |field| all.push((Group::OpAmpSpread, field));
    add(quantity(
        path("gain_bandwidth"),
        "Gain-bandwidth ±",
        Unit::Percent,
        TOLERANCES,
        Step::By { amount: 0.05 },
        "From part to part and over temperature; data sheets state a typical value.",
    ));
    add(quantity(
        path("gain_db"),
        "Open-loop gain ±",
        Unit::Decibel,
        (0.0, 60.0),
        Step::By { amount: 1.0 },
        "From part to part and over temperature.",
    ));
    add(Field {
        path: path("law"),
        label: "Distribution of op amps".into(),
        kind: Kind::choice(laws()),
        help: "How an op amp's numbers are distributed within these limits.",
    });
    if design.spread.op_amps.law == Law::Normal {
        add(sigmas(path("sigmas"), "Limits in sigmas"));
    }
    add(quantity(
        path("lot"),
        "Common to one lot of op amps",
        Unit::Percent,
        (0.0, 1.0),
        Step::By { amount: 0.05 },
        "The share of the deviation that all op amps of a board have in common.",
    ));
}

fn network(all: &mut Vec<(Group, Field)>, index: usize) {
    let path = |name: &str| format!("/spread/networks/{index}/{name}");
    let mut add = |field| all.push((Group::Network(index), field));
    let number = index + 1;
    add(quantity(
        path("ratio_tolerance"),
        &format!("Ratio tolerance of network {number} ±"),
        Unit::Percent,
        (0.0, 0.1),
        LOG,
        "Largest deviation of the ratio of any two of its parts.",
    ));
    add(quantity(
        path("ratio_tempco"),
        &format!("Ratio tempco of network {number} ±"),
        Unit::PpmPerKelvin,
        (0.0, 1e-3),
        LOG,
        "Largest drift of that ratio with temperature.",
    ));
}

/// How one part strays where it differs from its kind.
pub fn part(
    all: &mut Vec<(Group, Field)>,
    design: &Design,
    (stage, place): (usize, usize),
    name: &str,
) {
    let path = |key: &str| format!("/stages/{stage}/strays/{name}/{key}");
    let own = design.stages[stage].variations.get(name);
    let networks = design.spread.networks.len();
    let mut add = |field| all.push((Group::PartSpread(stage, place), field));
    let number = |key: &str, label: &str, unit, range, help| {
        let label = format!("{label} of {name} ±");
        or_empty(
            quantity(path(key), &label, unit, range, LOG, help),
            "as all of its kind",
        )
    };
    add(number(
        "tolerance",
        "Tolerance",
        Unit::Percent,
        TOLERANCES,
        "Empty for that of all parts of its kind.",
    ));
    add(number(
        "tempco",
        "Tempco",
        Unit::PpmPerKelvin,
        TEMPCOS,
        "Empty for that of all parts of its kind.",
    ));
    add(number(
        "ageing",
        "Ageing",
        Unit::Percent,
        AGEINGS,
        "Empty for that of all parts of its kind.",
    ));
    add(Field {
        path: path("law"),
        label: format!("Distribution of {name}"),
        kind: Kind::choice(
            std::iter::once(("", "as all of its kind"))
                .chain(laws())
                .collect(),
        ),
        help: "How its value is distributed within its tolerance.",
    });
    if own.is_some_and(|own| own.law == Some(Law::Normal) || own.sigmas.is_some()) {
        let field = sigmas(path("sigmas"), &format!("Tolerance of {name} in sigmas"));
        add(or_empty(field, "as all of its kind"));
    }
    add(or_empty(
        quantity(
            path("hole"),
            &format!("Tighter grade of {name} removed within"),
            Unit::Percent,
            HOLES,
            Step::By { amount: 0.05 },
            "Empty as for all parts of its kind.",
        ),
        "as all of its kind",
    ));
    if networks > 0 {
        let label = format!("Network of {name}");
        let range = (1.0, networks as f64);
        let step = Step::By { amount: 1.0 };
        let help = "The network's number, where this part is one of its package.";
        let field = quantity(path("network"), &label, Unit::One, range, step, help);
        add(whole(or_empty(field, "none")));
    }
}
