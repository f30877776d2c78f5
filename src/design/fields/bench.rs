//! What was measured of the built board.

use super::{Field, Group, LOG, RESISTORS, choice, or_empty, quantity};
use crate::circuit::Kind as PartKind;
use crate::design::field::Kind;
use crate::design::{Design, StageDesign};
use crate::quantity::Unit;
use crate::stages::{Step, catalogued};

pub(super) fn bench(all: &mut Vec<(Group, Field)>, design: &Design) {
    all.push((
        Group::Bench,
        choice(
            "/bench/of",
            "Measured",
            &[
                ("stage", "the shown stage"),
                ("path", "the whole path"),
                ("open-loop", "the open loop, L"),
                ("closed-loop", "the closed loop, L/(1 + L)"),
                ("sensitivity", "the sensitivity, 1/(1 + L)"),
            ],
            "From which input to which output the response was measured.",
        ),
    ));
    all.push((
        Group::Bench,
        or_empty(
            quantity(
                "/bench/noise".to_owned(),
                "Noise of a point",
                Unit::Percent,
                (1e-5, 0.5),
                LOG,
                "One standard deviation, relative; empty to read it off the points.",
            ),
            "from points",
        ),
    ));
    for (index, stage) in design.stages.iter().enumerate() {
        trimmer(all, index, stage);
    }
}

/// The trimmer of a stage.
fn trimmer(all: &mut Vec<(Group, Field)>, index: usize, stage: &StageDesign) {
    if stage.trimmer.is_none() {
        return;
    }
    let at = |name: &str| format!("/stages/{index}/trimmer/{name}");
    let group = Group::Trimmer(index);
    let mut part = choice(
        &at("part"),
        "Trimmer in place of",
        &[],
        "The resistor that it and its fixed part stand for.",
    );
    if let (Kind::Choice { options }, Some(circuit)) = (&mut part.kind, catalogued(&stage.circuit))
    {
        let netlist = circuit.netlist();
        let resistors = netlist
            .parts()
            .iter()
            .filter(|part| matches!(part.kind, PartKind::Resistor { .. }));
        options.extend(resistors.map(|part| (part.name.clone().into(), part.name.clone().into())));
    }
    all.push((group, part));
    let mut add = |name: &str, label: &str, unit, range, step, help| {
        all.push((group, quantity(at(name), label, unit, range, step, help)));
    };
    let ohms = (0.0, RESISTORS.1);
    add(
        "fixed",
        "Fixed resistor",
        Unit::Ohm,
        ohms,
        LOG,
        "In series with the trimmer.",
    );
    add(
        "range",
        "Trimmer",
        Unit::Ohm,
        RESISTORS,
        LOG,
        "From end to end.",
    );
    add(
        "turns",
        "Turns",
        Unit::One,
        (0.25, 100.0),
        Step::By { amount: 1.0 },
        "From end to end.",
    );
}
