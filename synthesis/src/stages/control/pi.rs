//! Proportional and integral action with one op amp.

use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PiAsk, Stage};

pub struct Pi;

const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;

impl Catalogued for Pi {
    fn id(&self) -> &'static str {
        "pi"
    }

    fn title(&self) -> &'static str {
        "PI controller"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "middle")
            .capacitor("C1", "middle", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Pi(PiAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for Pi {
    fn summary(&self) -> &'static str {
        "No steady-state error with two resistors and a capacitor; gain and zero are set independently, R1 sets the gain alone."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (PI)",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 4 and 6 (PI control)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .rung(6, (0, 8), &["R1"])
            .inverting("U1", (9, 6), 19)
            .rail(8, &[2, 6])
            .rung(2, (8, 19), &["R2", "C1"])
            .rail(19, &[2, 7])
            .out_of((19, 7))
            .done()
    }

    /// H = −(R2/R1)·(1 + 1/(s·R2·C1)).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Pi(ask) = ask else { return };
        values[R2] = 1.0 / (std::f64::consts::TAU * ask.zero * values[C1]);
        values[R1] = values[R2] / ask.gain;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pi(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A higher zero, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "A lower zero, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "There are no capacitors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 1.0 + own.gain, 10.0 * own.zero));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pi(_) = ask else { return Vec::new() };
        vec![runs_away(op_amp)]
    }
}
