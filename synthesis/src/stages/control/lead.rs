//! The lead with one op amp; the same circuit is a PD with a roll-off.
//!
//! A capacitor with a resistor in series lies across the input resistor.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PoleZeroAsk, Stage};

pub struct Lead;

const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const R3: usize = 3;

pub(super) const GROUPING: Grouping = Grouping {
    chosen: &[&[C1]],
    free: &[],
    solved: &[&[R1], &[R2], &[R3]],
    dividers: &[],
    given: &[],
};

pub(super) fn netlist() -> Netlist {
    Netlist::new("in", "out")
        .resistor("R1", "in", "minus")
        .resistor("R2", "in", "middle")
        .capacitor("C1", "middle", "minus")
        .resistor("R3", "minus", "out")
        .op_amp("U1", "0", "minus", "out")
}

pub(super) fn drawing() -> Drawing {
    Sketch::default()
        .input("", (0, 6))
        .wire(&[(0, 6), (2, 6)])
        .rail(2, &[2, 6])
        .rung(2, (2, 13), &["R2", "C1"])
        .rung(6, (2, 13), &["R1"])
        .rail(13, &[2, 6])
        .wire(&[(13, 6), (15, 6)])
        .inverting("U1", (16, 6), 23)
        .rail(15, &[2, 6])
        .rung(2, (15, 23), &["R3"])
        .rail(23, &[2, 7])
        .out_of((23, 7))
        .done()
}

/// H = −(R3/R1)·(1 + s·(R1 + R2)·C1)/(1 + s·R2·C1), for a gain at DC and corners in Hz.
pub(super) fn design(gain: f64, (zero, pole): (f64, f64), values: &mut [f64]) {
    let tau = std::f64::consts::TAU * values[C1];
    values[R2] = 1.0 / (tau * pole);
    values[R1] = 1.0 / (tau * zero) - values[R2];
    values[R3] = gain * values[R1];
}

/// What the op amp has to hold: all of the input network against R3.
pub(super) fn speed(op_amp: &OpAmp, gain: f64, (zero, pole): (f64, f64)) -> Option<String> {
    too_slow(op_amp, 1.0 + gain * pole / zero, pole)
}

impl Catalogued for Lead {
    fn id(&self) -> &'static str {
        "lead"
    }

    fn title(&self) -> &'static str {
        "Lead"
    }

    fn netlist(&self) -> Netlist {
        netlist()
    }

    fn default_ask(&self) -> Ask {
        Ask::Lead(PoleZeroAsk::default())
    }

    fn grouping(&self) -> Grouping {
        GROUPING
    }
}

impl Stage for Lead {
    fn summary(&self) -> &'static str {
        "Phase before the crossover with one op amp, its gain at DC set independently; amplifies what lies above its pole, noise too."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, lead compensation and its electronic circuits",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 6 (lead compensation, phase at its middle)",
        ]
    }

    fn drawing(&self) -> Drawing {
        drawing()
    }

    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Lead(ask) = ask else { return };
        design(ask.gain, (ask.zero, ask.pole), values);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Lead(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower corners, nearer to each other, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "A lead has its pole above its zero; with the pole below it is a lag.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(speed(op_amp, own.gain, (own.zero, own.pole)));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::Lead(ask) = ask else {
            return Vec::new();
        };
        advice(ask)
    }
}

/// What a lead gives, and where.
pub(super) fn advice(ask: &PoleZeroAsk) -> Vec<String> {
    let ratio = ask.pole / ask.zero;
    let phase = ((ratio - 1.0) / (ratio + 1.0)).asin().to_degrees();
    let mut advice = vec![format!(
        "It leads most, by {}, at {}, where its gain is {}; above the pole its gain is {}.",
        rounded(phase, Unit::Degree, 3),
        rounded((ask.zero * ask.pole).sqrt(), Unit::Hertz, 3),
        rounded(ask.gain * ratio.sqrt(), Unit::One, 3),
        rounded(ask.gain * ratio, Unit::One, 3),
    )];
    if ratio > 15.0 {
        advice.push(
            "Beyond a ratio of about 15 a lead gains little phase and much noise: two leads in a row cost less."
                .to_owned(),
        );
    }
    advice
}
