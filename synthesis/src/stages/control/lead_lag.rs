//! Ogata's electronic lead–lag: the lead in the input, the lag in the feedback, an inverter for gain
//! and sign.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, LeadLagAsk, Stage};

pub struct LeadLag;

const R1: usize = 0;
const C1: usize = 1;
const R3: usize = 2;
const R2: usize = 3;
const C2: usize = 4;
const R4: usize = 5;
const R5: usize = 7;
const R6: usize = 8;

impl Catalogued for LeadLag {
    fn id(&self) -> &'static str {
        "lead-lag"
    }

    fn title(&self) -> &'static str {
        "Lead–lag"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "ahead")
            .capacitor("C1", "ahead", "minus")
            .resistor("R3", "in", "minus")
            .resistor("R2", "minus", "behind")
            .capacitor("C2", "behind", "first")
            .resistor("R4", "minus", "first")
            .op_amp("U1", "0", "minus", "first")
            .resistor("R5", "first", "second")
            .resistor("R6", "second", "out")
            .op_amp("U2", "0", "second", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LeadLag(LeadLagAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R5]],
            solved: &[&[R1], &[R2], &[R3], &[R4], &[R6]],
            ..Grouping::default()
        }
    }
}

impl Stage for LeadLag {
    fn summary(&self) -> &'static str {
        "Lead and lag in one first stage, corners set independently, and a second op amp that sets gain and sign; six resistors, two \
         capacitors."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (lag–lead)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .wire(&[(0, 10), (2, 10)])
            .rail(2, &[6, 10])
            .rung(6, (2, 13), &["R1", "C1"])
            .rung(10, (2, 13), &["R3"])
            .rail(13, &[6, 10])
            .wire(&[(13, 10), (15, 10)])
            .inverting("U1", (16, 10), 26)
            .rail(15, &[2, 6, 10])
            .rung(2, (15, 26), &["R2", "C2"])
            .rung(6, (15, 26), &["R4"])
            .rail(26, &[2, 6, 11])
            .rung(11, (26, 32), &["R5"])
            .inverting("U2", (33, 11), 40)
            .rail(32, &[7, 11])
            .rung(7, (32, 40), &["R6"])
            .rail(40, &[7, 12])
            .out_of((40, 12))
            .done()
    }

    /// H = (R4·R6)/(R3·R5)·(1 + s·(R1 + R3)·C1)/(1 + s·R1·C1)·(1 + s·R2·C2)/(1 + s·(R2 + R4)·C2).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LeadLag(ask) = ask else { return };
        let tau = std::f64::consts::TAU;
        values[R1] = 1.0 / (tau * ask.lead_pole * values[C1]);
        values[R3] = 1.0 / (tau * ask.lead_zero * values[C1]) - values[R1];
        values[R2] = 1.0 / (tau * ask.lag_zero * values[C2]);
        values[R4] = 1.0 / (tau * ask.lag_pole * values[C2]) - values[R2];
        values[R6] = ask.gain * values[R5] * values[R3] / values[R4];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LeadLag(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower corners, nearer to each other, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "The corners have to rise: lag pole, lag zero, lead zero, lead pole.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        let top = own.gain * own.lag_pole / own.lag_zero * own.lead_pole / own.lead_zero;
        reasons.extend(too_slow(op_amp, 1.0 + top, own.lead_pole));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::LeadLag(ask) = ask else {
            return Vec::new();
        };
        let at = (ask.lead_zero * ask.lead_pole).sqrt();
        let phase = |corner: f64| (at / corner).atan().to_degrees();
        let lead = phase(ask.lead_zero) - phase(ask.lead_pole);
        let lag = phase(ask.lag_pole) - phase(ask.lag_zero);
        vec![format!(
            "At {} the lead gives {} and the lag takes {} of it; further apart they disturb each other less.",
            rounded(at, Unit::Hertz, 3),
            rounded(lead, Unit::Degree, 3),
            rounded(lag, Unit::Degree, 2),
        )]
    }
}
