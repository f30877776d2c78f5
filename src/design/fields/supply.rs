//! The fields of a switching supply.

use super::super::field::{Field, Step};
use super::super::limits::FREQUENCIES;
use super::{Group, LOG, quantity, whole};
use crate::quantity::Unit;
use crate::supply::Supply;

const AT: &str = "/servo/supply";
/// Switching frequencies, Hz.
const SWITCHING: (f64, f64) = (100.0, 1e9);

/// Those of the orders, and of each converter.
pub(super) fn supply(all: &mut Vec<(Group, Field)>, supply: &Supply) {
    orders(all);
    for (index, converter) in supply.converters.iter().enumerate() {
        let mut add = |name: &str, label: &str, unit, range, step, help| {
            let path = format!("{AT}/converters/{index}/{name}");
            let label = format!("Converter {} {label}", index + 1);
            let field = quantity(path, &label, unit, range, step, help);
            all.push((Group::Converter(index), field));
        };
        let hundredth = Step::By { amount: 0.01 };
        add(
            "frequency",
            "switching frequency",
            Unit::Hertz,
            SWITCHING,
            LOG,
            "As marked in its data sheet or set by its resistor.",
        );
        add(
            "tolerance",
            "frequency ±",
            Unit::Percent,
            (0.0, 0.5),
            hundredth,
            "Over boards, temperature and load.",
        );
        if converter.burst.is_some() {
            let range = FREQUENCIES;
            add(
                "burst/from",
                "slowest bursts",
                Unit::Hertz,
                range,
                LOG,
                "Lowest repetition rate at light load.",
            );
            add(
                "burst/to",
                "fastest bursts",
                Unit::Hertz,
                range,
                LOG,
                "Highest repetition rate at light load.",
            );
        }
        if converter.spread.is_some() {
            add(
                "spread/depth",
                "spread ±",
                Unit::Percent,
                (0.0, 0.5),
                hundredth,
                "By so much spread spectrum moves the switching frequency to either side.",
            );
            add(
                "spread/rate",
                "modulation rate",
                Unit::Hertz,
                FREQUENCIES,
                LOG,
                "So often a second spread spectrum moves it to and fro.",
            );
        }
    }
}

fn orders(all: &mut Vec<(Group, Field)>) {
    let mut count = |name: &str, label: &str, range, help| {
        let path = format!("{AT}/{name}");
        let step = Step::By { amount: 1.0 };
        let field = whole(quantity(path, label, Unit::One, range, step, help));
        all.push((Group::Supply, field));
    };
    count(
        "harmonics",
        "Harmonics up to",
        (1.0, 12.0),
        "Of the switching frequency, of bursts and of the modulation.",
    );
    count(
        "divisors",
        "Subharmonics down to 1 over",
        (1.0, 8.0),
        "2 for half the switching frequency alone, as period doubling of current-mode control gives it; 1 for none.",
    );
    count(
        "beats",
        "Beats up to",
        (0.0, 8.0),
        "Highest m and n of |m·f1 − n·f2|; 0 for none.",
    );
    for (place, label) in [
        (0, "Lowest switching frequency"),
        (1, "Highest switching frequency"),
    ] {
        let path = format!("{AT}/range/{place}");
        let help = "Free bands are looked for from the lowest to the highest.";
        let field = quantity(path, label, Unit::Hertz, SWITCHING, LOG, help);
        all.push((Group::Supply, field));
    }
}
