//! The inverting summing amplifier: also the error amplifier, given a reference of the other sign.

use super::inverting::band;
use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, SumAsk};

pub struct Sum;

const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 2;

impl Catalogued for Sum {
    fn id(&self) -> &'static str {
        "sum-inverting"
    }

    fn title(&self) -> &'static str {
        "Summing amplifier"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .second_input("in2")
            .resistor("R1", "in", "minus")
            .resistor("R2", "in2", "minus")
            .resistor("R3", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Sum(SumAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[R3]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for Sum {
    fn summary(&self) -> &'static str {
        "Adds two signals, each with its own gain and without touching the other; with a reference of the other sign it is an error amplifier."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 (summing amplifier)",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 2 (op-amp summer)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 2))
            .rung(2, (0, 7), &["R1"])
            .input("in2", (0, 6))
            .rung(6, (0, 7), &["R2"])
            .rail(7, &[2, 6])
            .wire(&[(7, 6), (9, 6)])
            .inverting("U1", (10, 6), 17)
            .rail(9, &[2, 6])
            .rung(2, (9, 17), &["R3"])
            .rail(17, &[2, 7])
            .out_of((17, 7))
            .done()
    }

    /// out = −(R3/R1)·in − (R3/R2)·in2.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Sum(sum) = ask else { return };
        values[R1] = values[R3] / sum.gain;
        values[R2] = values[R3] / sum.second;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Sum(sum) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Gains nearer to each other and to 1, or a wider range of resistors",
            small: "Gains nearer to each other and to 1, or a wider range of resistors",
            none: "There are no resistors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 1.0 + sum.gain + sum.second, sum.frequency));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Sum(sum) = ask else {
            return Vec::new();
        };
        let mut advice = vec![
            "As an error amplifier it adds: give the reference the other sign than the measured value. Each source sees only its \
             own resistor, so both must be of low impedance."
                .to_owned(),
        ];
        advice.extend(band(op_amp, 1.0 + sum.gain + sum.second, sum.frequency));
        advice
    }
}
