//! The difference amplifier with four resistors.

use super::inverting::band;
use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, DifferenceAsk, Drawing, Grouping, Orientation, Stage};

pub struct Difference;

const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 2;
const R4: usize = 3;

impl Catalogued for Difference {
    fn id(&self) -> &'static str {
        "difference"
    }

    fn title(&self) -> &'static str {
        "Difference amplifier"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .second_input("in2")
            .resistor("R1", "in2", "minus")
            .resistor("R2", "minus", "out")
            .resistor("R3", "in", "plus")
            .resistor("R4", "plus", "0")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Difference(DifferenceAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[R1, R3]],
            solved: &[&[R2, R4]],
            ..Grouping::default()
        }
    }
}

impl Stage for Difference {
    fn summary(&self) -> &'static str {
        "Subtracts the second input from the first with one op amp; how well it rejects what they share depends on how alike its \
         resistors are."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 2 (difference amplifiers, resistance mismatch)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 2 (rejection with resistors that stray)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("in2", (0, 6))
            .rung(6, (0, 8), &["R1"])
            .op_amp("U1", (9, 6), 16)
            .input("", (0, 12))
            .rung(12, (0, 8), &["R3"])
            .wire(&[(8, 12), (8, 8), (9, 8)])
            .part("R4", Orientation::Vertical, (8, 12))
            .ground((8, 16))
            .rail(8, &[2, 6])
            .rung(2, (8, 16), &["R2"])
            .rail(16, &[2, 7])
            .out_of((16, 7))
            .done()
    }

    /// out = (R2/R1)·(in − in2) where R4/R3 = R2/R1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Difference(difference) = ask else {
            return;
        };
        values[R2] = difference.gain * values[R1];
        values[R4] = difference.gain * values[R3];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Difference(difference) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A lower gain, or a wider range of resistors",
            small: "A higher gain, or a wider range of resistors",
            none: "There are no resistors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(
            op_amp,
            1.0 + difference.gain,
            difference.frequency,
        ));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Difference(difference) = ask else {
            return Vec::new();
        };
        // Worst corner of four resistors: (1 + G)/(4·tolerance).
        let rejection =
            |tolerance: f64| 20.0 * ((1.0 + difference.gain) / (4.0 * tolerance)).log10();
        let needed =
            (1.0 + difference.gain) / (4.0 * 10f64.powf(difference.least_rejection / 20.0));
        let mut advice = vec![format!(
            "The worst board rejects (1 + gain)/(4·tolerance): {} dB with resistors of 1 %, {} dB with 0.1 %. For every board to \
             hold {} dB take resistors of {} or better, a matched network, or trim R4.",
            rounded(rejection(0.01), Unit::One, 3),
            rounded(rejection(0.001), Unit::One, 3),
            rounded(difference.least_rejection, Unit::One, 3),
            rounded(needed, Unit::Percent, 2),
        )];
        advice.extend(band(op_amp, 1.0 + difference.gain, difference.frequency));
        advice
    }
}
