//! The three-pole compensator (type III): integrator, two zeros and two poles on one op amp.

use std::f64::consts::TAU;

use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use super::type_two::RATIO_OFF;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, TypeThreeAsk};

pub struct TypeThree;

const R1: usize = 0;
const R3: usize = 1;
const C3: usize = 2;
const R2: usize = 3;
const C1: usize = 4;
const C2: usize = 5;

impl Catalogued for TypeThree {
    fn id(&self) -> &'static str {
        "type-three"
    }

    fn title(&self) -> &'static str {
        "Three-pole compensator (type III)"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R3", "in", "ahead")
            .capacitor("C3", "ahead", "minus")
            .resistor("R2", "minus", "behind")
            .capacitor("C1", "behind", "out")
            .capacitor("C2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::TypeThree(TypeThreeAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2], &[C3]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for TypeThree {
    fn summary(&self) -> &'static str {
        "No steady-state error and up to 180° more than an integrator at the crossover with one op amp; two ratios depend on capacitors \
         alone."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Venable, “The k factor: a new mathematical tool for stability analysis and synthesis”, 1983 (type 3 amplifier)",
            "Erickson and Maksimović, “Fundamentals of Power Electronics”, ch. 9 (regulator design, PID)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .wire(&[(0, 10), (2, 10)])
            .rail(2, &[6, 10])
            .rung(6, (2, 13), &["R3", "C3"])
            .rung(10, (2, 13), &["R1"])
            .rail(13, &[6, 10])
            .wire(&[(13, 10), (15, 10)])
            .inverting("U1", (16, 10), 26)
            .rail(15, &[2, 6, 10])
            .rung(2, (15, 26), &["C2"])
            .rung(6, (15, 26), &["R2", "C1"])
            .rail(26, &[2, 6, 11])
            .out_of((26, 11))
            .done()
    }

    /// H = −(1 + s·(R1 + R3)·C3)·(1 + s·R2·C1)/(s·R1·(C1 + C2)·(1 + s·R3·C3)·(1 + s·R2·C1·C2/(C1 + C2))).
    ///
    /// Either zero and either pole may stand in the input. Pole over zero of the feedback is
    /// 1 + C1/C2, and the gain wants a ratio of C3 to C1 + C2: of the four ways the one is taken whose
    /// ratios the capacitors at hand meet best.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::TypeThree(ask) = ask else { return };
        let (c1, c2, c3) = (values[C1], values[C2], values[C3]);
        let at = |corner: f64| (ask.at / corner).hypot(1.0);
        let zeros = [ask.zero_low, ask.zero_high];
        let poles = [ask.pole_low, ask.pole_high];
        // |H| without corners, at the frequency of the gain.
        let turned = at(zeros[0]) * at(zeros[1]) / (at(poles[0]) * at(poles[1]));
        let integral = ask.gain * TAU * ask.at / turned;
        let ratio = 1.0 + c1 / c2;
        let mut best = f64::INFINITY;
        values[R1] = f64::NAN;
        for (zero_ahead, zero) in [(zeros[0], zeros[1]), (zeros[1], zeros[0])] {
            for (pole_ahead, pole) in [(poles[0], poles[1]), (poles[1], poles[0])] {
                let r1 = (1.0 / zero_ahead - 1.0 / pole_ahead) / (TAU * c3);
                let corners_off = (ratio * zero / pole).ln().abs();
                let gain_off = (r1 * integral * (c1 + c2)).ln().abs();
                let off = corners_off.max(gain_off);
                if off < best && off < RATIO_OFF {
                    best = off;
                    let middle = (zero * pole / ratio).sqrt();
                    values[R1] = r1;
                    values[R2] = 1.0 / (TAU * middle * c1);
                    values[R3] = 1.0 / (TAU * pole_ahead * c3);
                }
            }
        }
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeThree(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower corners, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "No three capacitors on this shelf have the ratios that this requirement needs: C1/C2 is a pole over a zero, less 1, and C3 to \
                   C1 + C2 is set by the gain. A gain nearer to 1, corners at another ratio, or more capacitors over a wider range would make it possible.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        let top = own.gain * (own.pole_low / own.at).max(1.0);
        let frequency = own.pole_high.max(own.at);
        reasons.extend(too_slow(op_amp, 1.0 + top, frequency));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::TypeThree(ask) = ask else {
            return Vec::new();
        };
        let phase = |corner: f64| (ask.at / corner).atan().to_degrees();
        let boost =
            phase(ask.zero_low) + phase(ask.zero_high) - phase(ask.pole_low) - phase(ask.pole_high);
        let mut advice = vec![format!(
            "At {} it gives {} more phase than an integrator; the most is there for zeros and poles equally far below and above.",
            rounded(ask.at, Unit::Hertz, 3),
            rounded(boost, Unit::Degree, 3),
        )];
        advice.push(runs_away(op_amp));
        advice
    }
}
