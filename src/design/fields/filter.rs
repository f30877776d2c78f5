//! The fields of a filter as a whole.

use super::super::field::{Field, Kind, Step};
use super::super::{Design, FilterBand};
use super::{Group, LOG, or_empty, quantity, whole};
use crate::quantity::Unit;

fn path(name: &str) -> String {
    format!("/filter/{name}")
}

/// What a filter's band and family need; nothing else is shown.
pub(super) fn filter(all: &mut Vec<(Group, Field)>, design: &Design) {
    let filter = &design.filter;
    let is_band = matches!(filter.band, FilterBand::BandPass | FilterBand::BandStop);
    let mut add = |field| all.push((Group::Filter, field));
    let choice = |name: &str, label: &str, options: &[(&'static str, &'static str)], help| Field {
        path: path(name),
        label: label.to_owned(),
        kind: Kind::choice(options.to_vec()),
        help,
    };
    add(choice(
        "family",
        "Family",
        &[
            ("butterworth", "Butterworth"),
            ("chebyshev", "Chebyshev"),
            ("inverse-chebyshev", "inverse Chebyshev"),
            ("elliptic", "elliptic"),
            ("bessel", "Bessel"),
        ],
        "How the passband and the stopband are approached.",
    ));
    add(choice(
        "band",
        "Response",
        &[
            ("low-pass", "low-pass"),
            ("high-pass", "high-pass"),
            ("band-pass", "band-pass"),
            ("band-stop", "band-stop"),
        ],
        "Which frequencies pass.",
    ));
    for field in edges(is_band) {
        add(field);
    }
    let decibel = |name: &str, label: &str, range, help| {
        let step = Step::By { amount: 1.0 };
        quantity(path(name), label, Unit::Decibel, range, step, help)
    };
    add(decibel(
        "ripple_db",
        "Passband ripple",
        (0.001, 12.0),
        "Largest loss in the passband, reached at its edge.",
    ));
    add(decibel(
        "stop_db",
        "Stopband attenuation",
        (1.5, 150.0),
        "Least loss in the stopband.",
    ));
    let most = if is_band { 5.0 } else { 10.0 };
    let order = quantity(
        path("order"),
        if is_band {
            "Order at each edge"
        } else {
            "Order"
        },
        Unit::One,
        (1.0, most),
        Step::By { amount: 1.0 },
        "Empty to find the least order.",
    );
    add(whole(or_empty(order, "least order")));
    add(quantity(
        path("gain"),
        "Passband gain",
        Unit::One,
        (0.01, 1000.0),
        LOG,
        "A ratio.",
    ));
    add(choice(
        "headroom",
        "Gain of sections",
        &[("false", "1 each"), ("true", "distributed for headroom")],
        "Whether every section's output peaks alike.",
    ));
}

/// Where the passband ends and the stopband begins; of a band twice.
fn edges(is_band: bool) -> Vec<Field> {
    let frequency = |name: &str, label: &str, help| {
        quantity(path(name), label, Unit::Hertz, (0.01, 10e6), LOG, help)
    };
    let mut all = Vec::new();
    let mut add = |field| all.push(field);
    let (pass, stop) = if is_band {
        ("Lower passband edge", "Lower stopband edge")
    } else {
        ("Passband edge", "Stopband edge")
    };
    add(frequency(
        "pass",
        pass,
        "Up to here the loss stays within the passband ripple.",
    ));
    if is_band {
        add(frequency(
            "pass_high",
            "Upper passband edge",
            "The passband's other end.",
        ));
    }
    add(frequency(
        "stop",
        stop,
        "From here on the loss is at least the stopband attenuation.",
    ));
    if is_band {
        add(frequency(
            "stop_high",
            "Upper stopband edge",
            "The stopband's other end.",
        ));
    }
    all
}
