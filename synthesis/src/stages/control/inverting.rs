//! The inverting amplifier.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, GainAsk, Grouping, Stage};

pub struct Inverting;

const R1: usize = 0;
const R2: usize = 1;

impl Catalogued for Inverting {
    fn id(&self) -> &'static str {
        "gain-inverting"
    }

    fn title(&self) -> &'static str {
        "Inverting amplifier"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Gain(GainAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[R1]],
            solved: &[&[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for Inverting {
    fn summary(&self) -> &'static str {
        "Any gain, also below 1, and an input that stays at ground; costs a turn of the sign and loads its source with R1."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 (inverting amplifier)",
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (P)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .rung(6, (0, 8), &["R1"])
            .inverting("U1", (9, 6), 16)
            .rail(8, &[2, 6])
            .rung(2, (8, 16), &["R2"])
            .rail(16, &[2, 7])
            .out_of((16, 7))
            .done()
    }

    /// H = −R2/R1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Gain(gain) = ask else { return };
        values[R2] = gain.gain * values[R1];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Gain(gain) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A lower gain, a wider range of resistors or two stages in a row",
            small: "A higher gain, a wider range of resistors or two stages in a row",
            none: "There are no resistors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 1.0 + gain.gain, gain.frequency));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Gain(gain) = ask else {
            return Vec::new();
        };
        let mut advice = vec![
            "The source drives R1: its own resistance adds to R1 and takes that much of the gain away."
                .to_owned(),
        ];
        advice.extend(band(op_amp, 1.0 + gain.gain, gain.frequency));
        advice
    }
}

/// Where the op amp ends the band of a plain gain, when that is less than a decade above where the
/// gain is read.
pub(super) fn band(op_amp: &OpAmp, noise_gain: f64, frequency: f64) -> Option<String> {
    let edge = op_amp.gain_bandwidth / noise_gain;
    (edge < 10.0 * frequency).then(|| {
        format!(
            "The op amp ends the band near {} (its gain-bandwidth over {}): less than a decade above {}, where it already turns \
             the phase by {}.",
            rounded(edge, Unit::Hertz, 2),
            rounded(noise_gain, Unit::One, 3),
            rounded(frequency, Unit::Hertz, 3),
            rounded((frequency / edge).atan().to_degrees(), Unit::Degree, 2),
        )
    })
}
