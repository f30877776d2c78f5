//! Op amps by their data sheets, and which of them stands where.

use super::{Field, Group, Kind, LOG, choice, quantity};
use crate::design::{Design, StageDesign};
use crate::quantity::Unit;
use crate::stages::Step;

/// Most characters of an op amp's name.
const NAME: usize = 40;

/// The usual op amp, those of the list, and which of them each stage has.
pub(super) fn op_amps(all: &mut Vec<(Group, Field)>, design: &Design) {
    response(all, Group::OpAmp, "/op_amp", "");
    data(all, Group::OpAmpData, "/op_amp", "");
    for place in 0..design.op_amps.len() {
        let (at, of) = (format!("/op_amps/{place}"), format!(" {}", place + 1));
        let group = Group::OwnOpAmp(place);
        all.push((
            group,
            Field {
                path: format!("{at}/name"),
                label: format!("Name of op amp{of}"),
                kind: Kind::Text {
                    longest: NAME,
                    lines: false,
                },
                help: "Stages name it by this.",
            },
        ));
        let of = format!(" of op amp{of}");
        response(all, group, &at, &of);
        data(all, group, &at, &of);
    }
    for (index, stage) in design.stages.iter().enumerate() {
        // A name that is on no list is to be seen, so that it can be told and taken away.
        if !design.op_amps.is_empty() || stage.op_amp.is_some() || !stage.op_amps.is_empty() {
            named(all, design, index, stage);
        }
    }
}

/// A label with whose it is; the sign that belongs to the value stays at its end.
fn with_owner(label: &str, of: &str) -> String {
    match label.strip_suffix(" ±") {
        Some(label) => format!("{label}{of} ±"),
        None => format!("{label}{of}"),
    }
}

/// What decides a response.
fn response(all: &mut Vec<(Group, Field)>, group: Group, at: &str, of: &str) {
    let mut add = |name: &str, label: &str, unit, range, step, help| {
        let (path, label) = (format!("{at}/{name}"), with_owner(label, of));
        all.push((group, quantity(path, &label, unit, range, step, help)));
    };
    add(
        "gain_bandwidth",
        "Gain-bandwidth",
        Unit::Hertz,
        (1e3, 1e12),
        LOG,
        "Gain-bandwidth product from the data sheet.",
    );
    add(
        "gain_db",
        "Open-loop gain",
        Unit::Decibel,
        (20.0, 200.0),
        Step::By { amount: 1.0 },
        "Gain at DC.",
    );
    add(
        "output_resistance",
        "Output resistance",
        Unit::Ohm,
        (0.0, 100e3),
        LOG,
        "Open-loop output resistance.",
    );
}

/// What limits its signals and makes its errors.
fn data(all: &mut Vec<(Group, Field)>, group: Group, at: &str, of: &str) {
    let mut add = |name: &str, label: &str, unit, range, help| {
        let (path, label) = (format!("{at}/{name}"), with_owner(label, of));
        all.push((group, quantity(path, &label, unit, range, LOG, help)));
    };
    let headroom = (-1.0, 20.0);
    add(
        "slew_rate",
        "Slew rate",
        Unit::VoltPerMicrosecond,
        (1e2, 1e12),
        "Lowest over temperature.",
    );
    add(
        "output_current",
        "Output current",
        Unit::Ampere,
        (1e-6, 100.0),
        "Largest that it delivers and takes up.",
    );
    add(
        "output_headroom",
        "Output headroom",
        Unit::Volt,
        (0.0, 20.0),
        "The least distance of the output from either rail.",
    );
    add(
        "input_headroom_high",
        "Input headroom to the positive rail",
        Unit::Volt,
        headroom,
        "Where the common-mode range ends, below the positive rail; negative where it ends beyond.",
    );
    add(
        "input_headroom_low",
        "Input headroom to the negative rail",
        Unit::Volt,
        headroom,
        "Where the common-mode range ends, above the negative rail; negative where it ends beyond.",
    );
    add(
        "offset",
        "Offset voltage ±",
        Unit::Volt,
        (0.0, 0.1),
        "Largest input offset voltage.",
    );
    add(
        "offset_drift",
        "Offset drift ±",
        Unit::VoltPerKelvin,
        (0.0, 1e-3),
        "Largest drift of the offset voltage with temperature.",
    );
    add(
        "bias_current",
        "Input bias current ±",
        Unit::Ampere,
        (0.0, 1e-3),
        "Largest current into either input.",
    );
    add(
        "voltage_noise",
        "Voltage noise",
        Unit::VoltPerRootHertz,
        (0.0, 1e-5),
        "Density where it is white.",
    );
    add(
        "voltage_noise_corner",
        "Voltage noise corner",
        Unit::Hertz,
        (0.0, 1e6),
        "Below this frequency 1/f noise is larger than white noise.",
    );
    add(
        "current_noise",
        "Current noise",
        Unit::AmperePerRootHertz,
        (0.0, 1e-8),
        "Density into each input where it is white.",
    );
    add(
        "current_noise_corner",
        "Current noise corner",
        Unit::Hertz,
        (0.0, 1e6),
        "Below this frequency 1/f noise is larger than white noise.",
    );
    add(
        "supply_current",
        "Supply current",
        Unit::Ampere,
        (0.0, 1.0),
        "Largest without load.",
    );
}

/// Which op amp a stage has, and each op amp of it where there are several.
fn named(all: &mut Vec<(Group, Field)>, design: &Design, index: usize, stage: &StageDesign) {
    let designators = stage.op_amp_names();
    if designators.is_empty() {
        return;
    }
    let names = design.op_amps.iter().map(|own| own.name.clone());
    let names: Vec<String> = names.filter(|name| !name.is_empty()).collect();
    let mut add = |path: String, label: &str, none: &'static str, help| {
        let mut field = choice(&path, label, &[("", none)], help);
        if let Kind::Choice { options } = &mut field.kind {
            let own = names.iter().map(|name| (name.clone(), name.clone()));
            options.extend(own.map(|(value, label)| (value.into(), label.into())));
        }
        all.push((Group::StageOpAmps(index), field));
    };
    add(
        format!("/stages/{index}/op_amp"),
        &format!("Op amps of stage {}", index + 1),
        "the usual one",
        "Picks, curves, spread, noise and demands take it.",
    );
    if designators.len() > 1 {
        for designator in designators {
            add(
                format!("/stages/{index}/op_amps/{designator}"),
                &format!("{designator} of stage {}", index + 1),
                "as the stage",
                "Where one op amp of the stage is another.",
            );
        }
    }
}
