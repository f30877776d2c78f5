//! PID with roll-off on one op amp: a zero in the input network, a zero and the integrator in the
//! feedback.
//!
//! R4 divides the input down to what the two capacitors at hand leave of the gain; without it their
//! ratio would be fixed by the ask, and capacitors come in few values.

use std::f64::consts::TAU;

use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Orientation, PidAsk, Stage};

pub struct PidSingle;

const R1: usize = 0;
const R4: usize = 1;
const R2: usize = 2;
const C1: usize = 3;
const R3: usize = 4;
const C2: usize = 5;

/// Zeros of a higher Q than this, but for rounding, are a complex pair.
const REAL: f64 = 0.5 + 1e-9;

/// The gain above the zeros, which lasts on above the roll-off.
pub(super) fn top_gain(ask: &PidAsk) -> f64 {
    let gains = ask.gains();
    gains.kp + gains.kd * TAU * ask.roll_off
}

impl Catalogued for PidSingle {
    fn id(&self) -> &'static str {
        "pid-one-op-amp"
    }

    fn title(&self) -> &'static str {
        "PID controller with one op amp"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "divided")
            .resistor("R4", "divided", "0")
            .resistor("R2", "divided", "minus")
            .capacitor("C1", "divided", "minus")
            .resistor("R3", "minus", "middle")
            .capacitor("C2", "middle", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Pid(PidAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2], &[R3], &[R4]],
            ..Grouping::default()
        }
    }
}

impl Stage for PidSingle {
    fn summary(&self) -> &'static str {
        "All three actions and the roll-off with one op amp; its zeros are real, and Kp, Ki and Kd depend on each other's parts."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (PID), whose input capacitor \
             has no resistor for a roll-off",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 4 (PID, real derivative)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 6))
            .rung(6, (0, 7), &["R1"])
            .part("R4", Orientation::Vertical, (7, 6))
            .ground((7, 10))
            .wire(&[(7, 6), (11, 6)])
            .rail(11, &[2, 6])
            .rung(2, (11, 17), &["C1"])
            .rung(6, (11, 17), &["R2"])
            .rail(17, &[2, 6])
            .wire(&[(17, 6), (19, 6)])
            .inverting("U1", (20, 6), 30)
            .rail(19, &[2, 6])
            .rung(2, (19, 30), &["R3", "C2"])
            .rail(30, &[2, 7])
            .out_of((30, 7))
            .done()
    }

    /// With k = R4/(R1 + R4) and Rs = R1·R4/(R1 + R4) (Thévenin),
    /// H = −k·(1 + s·R2·C1)·(1 + s·R3·C2)/(s·C2·(Rs + R2)·(1 + s·(Rs‖R2)·C1)).
    ///
    /// Either zero may stand in the input; taken is the one whose resistors are nearer to 10 kΩ.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Pid(ask) = ask else { return };
        let zeros = ask.zeros();
        if zeros.q() > REAL {
            values[R1] = f64::NAN;
            return;
        }
        let (low, high) = zeros.corners();
        let (ki, pole) = (ask.gains().ki, TAU * ask.roll_off);
        let (c1, c2) = (values[C1], values[C2]);
        let with = |ahead: f64, behind: f64| {
            let source = 1.0 / (c1 * (pole - ahead));
            let r2 = 1.0 / (c1 * ahead);
            let k = ki * c2 * (source + r2);
            [source / k, r2, 1.0 / (c2 * behind), source / (1.0 - k)]
        };
        // Infinite where one is not positive.
        let far = |resistors: &[f64; 4]| -> f64 {
            let away = resistors.iter().map(|r| (r / 10e3).log10().abs());
            away.map(|a| if a.is_nan() { f64::INFINITY } else { a })
                .sum()
        };
        let (a, b) = (with(low, high), with(high, low));
        let best = if far(&a) <= far(&b) { a } else { b };
        [values[R1], values[R2], values[R3], values[R4]] = best;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pid(own) = ask else {
            return Vec::new();
        };
        let q = own.zeros().q();
        if q > REAL {
            return vec![format!(
                "These gains make the zeros a complex pair of Q {}, and this circuit has real zeros only (Q 0.5 or less). The PID with \
                 parallel paths makes complex ones; less Ki or Kd, or more Kp, would make them real.",
                rounded(q, Unit::One, 3),
            )];
        }
        let remedy = Remedy {
            large: "Higher zeros, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower frequencies, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "For every pair of capacitors on this shelf the gain is too high for the input divider. A lower gain, smaller \
                   capacitors or the PID with parallel paths would make it possible.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(too_slow(op_amp, 1.0 + top_gain(own), own.roll_off));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pid(own) = ask else {
            return Vec::new();
        };
        let mut advice = vec![runs_away(op_amp)];
        advice.extend(noise(own));
        advice
    }
}

/// What the derivative costs above the roll-off.
pub(super) fn noise(ask: &PidAsk) -> Option<String> {
    let gains = ask.gains();
    let ratio = top_gain(ask) / gains.kp;
    (ratio > 20.0).then(|| {
        format!(
            "Above the roll-off noise is amplified {} times as much as by proportional action alone; common practice puts the roll-off \
             at 5 to 20 times 1/(2π·Td), here {} to {}.",
            rounded(ratio, Unit::One, 2),
            rounded(5.0 * gains.kp / (TAU * gains.kd), Unit::Hertz, 2),
            rounded(20.0 * gains.kp / (TAU * gains.kd), Unit::Hertz, 2),
        )
    })
}
