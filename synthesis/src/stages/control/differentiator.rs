//! The differentiator with a resistor that ends its rise.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, DifferentiatorAsk, Drawing, Grouping, Stage};

pub struct Differentiator;

const R1: usize = 0;
const C1: usize = 1;
const R2: usize = 2;

impl Catalogued for Differentiator {
    fn id(&self) -> &'static str {
        "differentiator"
    }

    fn title(&self) -> &'static str {
        "Differentiator with limited high end"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "middle")
            .capacitor("C1", "middle", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Differentiator(DifferentiatorAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for Differentiator {
    fn summary(&self) -> &'static str {
        "Differentiates up to its roll-off, where R1 keeps it stable and noise in bounds; steep edges and noise still come out large."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 and 8 (differentiator and its stability)",
            "Nodal analysis, held against it in the project's tests",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .rung(6, (0, 13), &["R1", "C1"])
            .inverting("U1", (14, 6), 21)
            .rail(13, &[2, 6])
            .rung(2, (13, 21), &["R2"])
            .rail(21, &[2, 7])
            .out_of((21, 7))
            .done()
    }

    /// H = −s·R2·C1/(1 + s·R1·C1).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Differentiator(ask) = ask else {
            return;
        };
        let tau = std::f64::consts::TAU * values[C1];
        values[R1] = 1.0 / (tau * ask.roll_off);
        values[R2] = 1.0 / (tau * ask.unity);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Differentiator(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A higher unity-gain frequency, larger capacitors or a wider range of resistors",
            small: "A lower roll-off, smaller capacitors or a wider range of resistors",
            none: "There are no capacitors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(
            op_amp,
            1.0 + own.roll_off / own.unity,
            own.roll_off,
        ));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::Differentiator(ask) = ask else {
            return Vec::new();
        };
        let top = ask.roll_off / ask.unity;
        let mut advice = vec![format!(
            "Above {} it amplifies everything by {}, noise and ripple too: keep the roll-off as low as the loop allows.",
            rounded(ask.roll_off, Unit::Hertz, 3),
            rounded(top, Unit::One, 3),
        )];
        if top > 100.0 {
            advice.push(
                "Common practice keeps the roll-off within a factor of 10 to 100 of the unity-gain frequency."
                    .to_owned(),
            );
        }
        advice
    }
}
