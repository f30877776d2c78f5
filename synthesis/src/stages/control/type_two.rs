//! The two-pole compensator (type II): integrator, zero and pole on one op amp.

use std::f64::consts::TAU;

use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, TypeTwoAsk};

pub struct TypeTwo;

const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const C2: usize = 3;

/// Capacitors whose ratio is off by more than this (ln) are not tried: the coarsest series in use, three
/// values a decade, has one nearer than that.
pub(super) const RATIO_OFF: f64 = 0.4;

impl Catalogued for TypeTwo {
    fn id(&self) -> &'static str {
        "type-two"
    }

    fn title(&self) -> &'static str {
        "Two-pole compensator (type II)"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "middle")
            .capacitor("C1", "middle", "out")
            .capacitor("C2", "minus", "out")
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
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for TypeTwo {
    fn summary(&self) -> &'static str {
        "No steady-state error, up to 90° more than an integrator at the crossover, ripple kept out; pole over zero depends on C1/C2 alone."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Venable, “The k factor: a new mathematical tool for stability analysis and synthesis”, 1983 (type 2 amplifier)",
            "Erickson and Maksimović, “Fundamentals of Power Electronics”, ch. 9 (regulator design, PI and lead)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .rung(10, (0, 8), &["R1"])
            .inverting("U1", (9, 10), 19)
            .rail(8, &[2, 6, 10])
            .rung(2, (8, 19), &["C2"])
            .rung(6, (8, 19), &["R2", "C1"])
            .rail(19, &[2, 6, 11])
            .out_of((19, 11))
            .done()
    }

    /// H = −(1 + s·R2·C1)/(s·R1·(C1 + C2)·(1 + s·R2·C1·C2/(C1 + C2))).
    ///
    /// Pole over zero is 1 + C1/C2: where the capacitors at hand miss it, zero and pole miss by the same
    /// ratio, and the gain is met.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::TypeTwo(ask) = ask else { return };
        let (c1, c2) = (values[C1], values[C2]);
        let ratio = 1.0 + c1 / c2;
        if (ratio * ask.zero / ask.pole).ln().abs() > RATIO_OFF {
            values[R1] = f64::NAN;
            return;
        }
        let zero = (ask.zero * ask.pole / ratio).sqrt();
        values[R2] = 1.0 / (TAU * zero * c1);
        let at = |corner: f64| (ask.at / corner).hypot(1.0);
        let turned = at(zero) / at(zero * ratio);
        values[R1] = turned / (ask.gain * TAU * ask.at * (c1 + c2));
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeTwo(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a higher gain, larger capacitors or a wider range of resistors",
            small: "Lower corners, a lower gain, smaller capacitors or a wider range of resistors",
            none: "No two capacitors on this shelf have the ratio that these corners need: C1/C2 is pole over zero, less 1. Corners \
                   at another ratio, more values of capacitors or the compensator with a T input would make it possible.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        if reasons.is_empty() && mismatch(own, shelf) > own.frequency_limit {
            reasons.push(format!(
                "The nearest ratio of two capacitors on this shelf leaves zero and pole off by {} each: C1/C2 would have to be {}. More \
                 values of capacitors, corners at another ratio, wider limits or the compensator with a T input would make it possible.",
                rounded(mismatch(own, shelf), Unit::Percent, 2),
                rounded(own.pole / own.zero - 1.0, Unit::One, 3),
            ));
        }
        reasons.extend(too_slow(op_amp, 1.0 + own.gain, own.pole.max(own.at)));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeTwo(ask) = ask else {
            return Vec::new();
        };
        vec![boost(ask), runs_away(op_amp)]
    }
}

/// What it gives at the frequency of its gain.
pub(super) fn boost(ask: &TypeTwoAsk) -> String {
    let boost = (ask.at / ask.zero).atan() - (ask.at / ask.pole).atan();
    format!(
        "At {} it gives {} more phase than an integrator; the most is there for a zero and a pole equally far below and above.",
        rounded(ask.at, Unit::Hertz, 3),
        rounded(boost.to_degrees(), Unit::Degree, 3),
    )
}

/// By how much (a fraction) the nearest pair of capacitors leaves zero and pole off.
fn mismatch(ask: &TypeTwoAsk, shelf: &Shelf) -> f64 {
    let capacitors = shelf.capacitors.values();
    let wanted = ask.pole / ask.zero;
    let pairs = capacitors
        .iter()
        .flat_map(|c1| capacitors.iter().map(move |c2| 1.0 + c1 / c2));
    let least = pairs
        .map(|ratio| (ratio / wanted).ln().abs())
        .fold(f64::INFINITY, f64::min);
    (0.5 * least).exp_m1()
}
