//! What a board works with.

use super::{Field, Group, LOG, choice, quantity};
use crate::design::Design;
use crate::design::limits::FREQUENCIES;
use crate::quantity::Unit;
use crate::stages::Step;

pub(super) fn board(all: &mut Vec<(Group, Field)>, design: &Design) {
    let volts = Step::By { amount: 0.5 };
    let enters = choice(
        "/signal/enters",
        "Largest signal enters",
        &[
            ("reference", "as the loop's reference"),
            ("path", "at the path's input"),
            ("motion", "as the error of the time response"),
        ],
        "Without a plant it enters at the path's input.",
    );
    all.push((Group::Signal, enters));
    let mut add = |group, path: &str, label: &str, unit, range, step, help| {
        let field = quantity(path.to_owned(), label, unit, range, step, help);
        all.push((group, field));
    };
    add(
        Group::Conditions,
        "/conditions/positive_rail",
        "Positive rail",
        Unit::Volt,
        (0.5, 200.0),
        volts,
        "The op amps' positive supply.",
    );
    add(
        Group::Conditions,
        "/conditions/negative_rail",
        "Negative rail",
        Unit::Volt,
        (-200.0, 0.0),
        volts,
        "The op amps' negative supply; 0 with a single supply.",
    );
    add(
        Group::Noise,
        "/conditions/temperature",
        "Board temperature",
        Unit::Celsius,
        (-200.0, 250.0),
        Step::By { amount: 1.0 },
        "Thermal noise is worked out at it.",
    );
    for (name, label) in [("from", "Noise from"), ("to", "Noise to")] {
        add(
            Group::Noise,
            &format!("/noise/{name}"),
            label,
            Unit::Hertz,
            FREQUENCIES,
            LOG,
            "Noise is added up over this band.",
        );
    }
    add(
        Group::Conditions,
        "/conditions/load",
        "Load at the output",
        Unit::Ohm,
        (1.0, 1e9),
        LOG,
        "What the last stage drives.",
    );
    for place in 0..design.signal.points.len() {
        let number = place + 1;
        add(
            Group::SignalPoint(place),
            &format!("/signal/points/{place}/frequency"),
            &format!("Frequency of point {number}"),
            Unit::Hertz,
            FREQUENCIES,
            LOG,
            "Points rise in frequency.",
        );
        add(
            Group::SignalPoint(place),
            &format!("/signal/points/{place}/amplitude"),
            &format!("Amplitude of point {number}"),
            Unit::Volt,
            (1e-9, 1e3),
            LOG,
            "Peak of the largest sine.",
        );
    }
}
