//! The lag with one op amp: a capacitor with a resistor in series lies across the feedback.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PoleZeroAsk, Stage};

pub struct Lag;

const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 2;
const C1: usize = 3;

impl Catalogued for Lag {
    fn id(&self) -> &'static str {
        "lag"
    }

    fn title(&self) -> &'static str {
        "Lag"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .resistor("R3", "minus", "middle")
            .capacitor("C1", "middle", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Lag(PoleZeroAsk::lag())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for Lag {
    fn summary(&self) -> &'static str {
        "More gain at DC than at the crossover with one op amp; costs phase between pole and zero and settles slowly there."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, lag compensation and its electronic circuits",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 6 (lag compensation)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .rung(10, (0, 8), &["R1"])
            .inverting("U1", (9, 10), 19)
            .rail(8, &[2, 6, 10])
            .rung(2, (8, 19), &["R3", "C1"])
            .rung(6, (8, 19), &["R2"])
            .rail(19, &[2, 6, 11])
            .out_of((19, 11))
            .done()
    }

    /// H = −(R2/R1)·(1 + s·R3·C1)/(1 + s·(R2 + R3)·C1).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Lag(ask) = ask else { return };
        let tau = std::f64::consts::TAU * values[C1];
        values[R3] = 1.0 / (tau * ask.zero);
        values[R2] = 1.0 / (tau * ask.pole) - values[R3];
        values[R1] = values[R2] / ask.gain;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Lag(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower corners, nearer to each other, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "A lag has its pole below its zero; with the pole above it is a lead.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        let top = own.gain * own.pole / own.zero;
        reasons.extend(too_slow(op_amp, 1.0 + top, own.zero));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::Lag(ask) = ask else {
            return Vec::new();
        };
        advice(ask)
    }
}

/// What a lag costs, and where.
pub(super) fn advice(ask: &PoleZeroAsk) -> Vec<String> {
    let ratio = ask.zero / ask.pole;
    let at = 10.0 * ask.zero;
    let lag = ((at / ask.pole).atan() - (at / ask.zero).atan()).to_degrees();
    vec![format!(
        "Above the zero its gain is {}; a crossover a decade above the zero, at {}, still loses {} to it. Put the zero there or lower.",
        rounded(ask.gain / ratio, Unit::One, 3),
        rounded(at, Unit::Hertz, 3),
        rounded(lag, Unit::Degree, 2),
    )]
}
