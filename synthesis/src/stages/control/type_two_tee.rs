//! The two-pole compensator with its pole in a T at the input: three resistors for three wants,
//! whatever the capacitors are.

use std::f64::consts::TAU;

use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use super::type_two::boost;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Orientation, Stage, TypeTwoAsk};

pub struct TypeTwoTee;

const R1: usize = 0;
const C2: usize = 1;
const R3: usize = 2;
const R2: usize = 3;
const C1: usize = 4;

impl Catalogued for TypeTwoTee {
    fn id(&self) -> &'static str {
        "type-two-tee"
    }

    fn title(&self) -> &'static str {
        "Two-pole compensator with a T input"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "ahead")
            .capacitor("C2", "ahead", "0")
            .resistor("R3", "ahead", "minus")
            .resistor("R2", "minus", "behind")
            .capacitor("C1", "behind", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::TypeTwo(TypeTwoAsk {
            pole: 1600.0,
            ..TypeTwoAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for TypeTwoTee {
    fn summary(&self) -> &'static str {
        "Zero, pole and gain each on its own resistor, ripple kept off the op amp; its source drives R1 and C2 above the pole."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (PI), with a low-pass in its \
             input resistor: nodal analysis",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .rung(6, (0, 7), &["R1"])
            .part("C2", Orientation::Vertical, (7, 6))
            .ground((7, 10))
            .wire(&[(7, 6), (9, 6)])
            .rung(6, (9, 17), &["R3"])
            .inverting("U1", (18, 6), 28)
            .rail(17, &[2, 6])
            .rung(2, (17, 28), &["R2", "C1"])
            .rail(28, &[2, 7])
            .out_of((28, 7))
            .done()
    }

    /// H = −(1 + s·R2·C1)/(s·(R1 + R3)·C1·(1 + s·(R1‖R3)·C2)).
    ///
    /// Sum and parallel of R1 and R3 are given; the smaller stands at the source, which leaves the
    /// op amp less gain for its own noise.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::TypeTwo(ask) = ask else { return };
        let (c1, c2) = (values[C1], values[C2]);
        let at = |corner: f64| (ask.at / corner).hypot(1.0);
        let sum = at(ask.zero) / at(ask.pole) / (ask.gain * TAU * ask.at * c1);
        let parallel = 1.0 / (TAU * ask.pole * c2);
        // Not a number where C2 is too small for the pole.
        let large = 0.5 * sum * (1.0 + (1.0 - 4.0 * parallel / sum).sqrt());
        values[R1] = sum * parallel / large;
        values[R3] = large;
        values[R2] = 1.0 / (TAU * ask.zero * c1);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeTwo(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a higher gain, larger capacitors or a wider range of resistors",
            small: "Lower corners, a lower gain, smaller capacitors or a wider range of resistors",
            none: "The largest C2 on this shelf is too small against the smallest C1: the pole wants of R1 and R3 in parallel more \
                   than a quarter of their sum, which the gain sets. A lower gain, a higher pole or a wider range of capacitors would make it possible.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 1.0 + 2.0 * own.gain, own.pole.max(own.at)));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeTwo(ask) = ask else {
            return Vec::new();
        };
        vec![boost(ask), runs_away(op_amp)]
    }
}
