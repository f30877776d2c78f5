//! The non-inverting amplifier.

use super::inverting::band;
use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, GainAsk, Grouping, Stage};

pub struct NonInverting;

const R1: usize = 0;
const R2: usize = 1;

impl Catalogued for NonInverting {
    fn id(&self) -> &'static str {
        "gain-non-inverting"
    }

    fn title(&self) -> &'static str {
        "Non-inverting amplifier"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "0", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "in", "minus", "out")
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

impl Stage for NonInverting {
    fn summary(&self) -> &'static str {
        "Keeps the sign and does not load its source; gains above 1 only, and the op amp's inputs move with the signal."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 (non-inverting amplifier)",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 2 (op-amp circuits)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .ground((2, 8))
            .rail(2, &[6, 8])
            .rung(6, (2, 8), &["R1"])
            .op_amp("U1", (9, 6), 16)
            .input("", (0, 11))
            .wire(&[(0, 11), (9, 11), (9, 8)])
            .rail(8, &[2, 6])
            .rung(2, (8, 16), &["R2"])
            .rail(16, &[2, 7])
            .out_of((16, 7))
            .done()
    }

    /// H = 1 + R2/R1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Gain(gain) = ask else { return };
        values[R2] = (gain.gain - 1.0) * values[R1];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Gain(gain) = ask else {
            return Vec::new();
        };
        if gain.gain <= 1.0 {
            return vec![format!(
                "Gain {} is out of this circuit's reach, which is 1 + R2/R1 and always above 1. A follower gives 1, an inverting \
                 amplifier or a divider before a follower less.",
                rounded(gain.gain, Unit::One, 3),
            )];
        }
        let remedy = Remedy {
            large: "A lower gain, a wider range of resistors or two stages in a row",
            small: "A gain further above 1, a follower, or a wider range of resistors",
            none: "There are no resistors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, gain.gain, gain.frequency));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Gain(gain) = ask else {
            return Vec::new();
        };
        let mut advice = vec![
            "Both inputs of the op amp follow the signal: its input range has to cover it. Its bias current needs a way to ground \
             through the source."
                .to_owned(),
        ];
        advice.extend(band(op_amp, gain.gain, gain.frequency));
        advice
    }
}
