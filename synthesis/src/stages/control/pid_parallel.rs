//! PID with a path for each action and an inverter that adds them up.

use std::f64::consts::TAU;

use super::pid_single::{noise, top_gain};
use super::reach::{Remedy, off_shelf, runs_away, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PidAsk, PidValues, Stage};

pub struct PidParallel;

const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 3;
const C1: usize = 4;
const R4: usize = 6;
const C2: usize = 7;
const R5: usize = 8;
const R6: usize = 10;
const R7: usize = 11;
const R8: usize = 12;
const R9: usize = 13;

impl Catalogued for PidParallel {
    fn id(&self) -> &'static str {
        "pid-parallel"
    }

    fn title(&self) -> &'static str {
        "PID controller with parallel paths"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "p minus")
            .resistor("R2", "p minus", "p")
            .op_amp("U1", "0", "p minus", "p")
            .resistor("R3", "in", "i minus")
            .capacitor("C1", "i minus", "i")
            .op_amp("U2", "0", "i minus", "i")
            .resistor("R4", "in", "d middle")
            .capacitor("C2", "d middle", "d minus")
            .resistor("R5", "d minus", "d")
            .op_amp("U3", "0", "d minus", "d")
            .resistor("R6", "p", "minus")
            .resistor("R7", "i", "minus")
            .resistor("R8", "d", "minus")
            .resistor("R9", "minus", "out")
            .op_amp("U4", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Pid(PidAsk {
            values: PidValues::Gains {
                kp: 2.0,
                ki: 1000.0,
                kd: 2e-3,
            },
            ..PidAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R6, R7, R8, R9]],
            solved: &[&[R2], &[R3], &[R4], &[R5]],
            ..Grouping::default()
        }
    }
}

impl Stage for PidParallel {
    fn summary(&self) -> &'static str {
        "Kp, Ki and Kd each on its own resistor, complex zeros too, and the sign kept; costs four op amps."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 4 (PID as a sum, real derivative)",
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 1 (inverting integrator, differentiator, summer)",
        ]
    }

    fn drawing(&self) -> Drawing {
        const ROWS: [i16; 3] = [4, 15, 26];
        const AHEAD: [&[&str]; 3] = [&["R1"], &["R3"], &["R4", "C2"]];
        const AROUND: [&str; 3] = ["R2", "C1", "R5"];
        const AMPLIFIERS: [&str; 3] = ["U1", "U2", "U3"];
        const BEHIND: [&str; 3] = ["R6", "R7", "R8"];
        let mut sketch = Sketch::default()
            .input("", (0, ROWS[1]))
            .wire(&[(0, ROWS[1]), (2, ROWS[1])])
            .rail(2, &ROWS);
        for (row, y) in ROWS.into_iter().enumerate() {
            sketch = sketch
                .rung(y, (2, 13), AHEAD[row])
                .inverting(AMPLIFIERS[row], (14, y), 21)
                .rail(13, &[y - 4, y])
                .rung(y - 4, (13, 21), &[AROUND[row]])
                .rail(21, &[y - 4, y + 1])
                .rung(y + 1, (21, 27), &[BEHIND[row]]);
        }
        let middle = ROWS[1] + 1;
        sketch
            .rail(27, &ROWS.map(|y| y + 1))
            .wire(&[(27, middle), (29, middle)])
            .inverting("U4", (30, middle), 37)
            .rail(29, &[middle - 4, middle])
            .rung(middle - 4, (29, 37), &["R9"])
            .rail(37, &[middle - 4, middle + 1])
            .out_of((37, middle + 1))
            .done()
    }

    /// H = R9·(R2/(R1·R6) + 1/(s·R3·C1·R7) + s·R5·C2/(R8·(1 + s·R4·C2))), and R1 and R6 to R9 are alike:
    /// Kp = R2/R1, Ki = 1/(R3·C1), Kd = R5·C2, with the roll-off at 1/(R4·C2).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Pid(ask) = ask else { return };
        let gains = ask.gains();
        values[R2] = gains.kp * values[R1];
        values[R3] = 1.0 / (gains.ki * values[C1]);
        values[R4] = 1.0 / (TAU * ask.roll_off * values[C2]);
        values[R5] = gains.kd / values[C2];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pid(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Gains nearer to each other at the zeros, larger capacitors or a wider range of resistors",
            small: "Gains nearer to each other at the zeros, a lower roll-off, smaller capacitors or a wider range of resistors",
            none: "Each of Kp, Ki and Kd has to be above 0.",
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
        advice.push(
            "Each path can be set on the bench by one resistor: R2 for Kp, R3 for Ki, R5 for Kd. Leaving a path's last resistor out \
             makes a PI or PD of it."
                .to_owned(),
        );
        advice
    }
}
