//! Ogata's electronic lead or lag: two op amps, an RC across input and feedback of the first.

use super::reach::{Remedy, off_shelf, too_slow};
use super::sketch::Sketch;
use super::{lag, lead};
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Order, PoleZeroAsk, Stage};

/// The same circuit for both.
pub struct PoleZero(pub Order);

const R1: usize = 0;
const C1: usize = 1;
const R2: usize = 2;
const C2: usize = 3;
const R3: usize = 5;
const R4: usize = 6;

impl PoleZero {
    fn own<'a>(&self, ask: &'a Ask) -> Option<&'a PoleZeroAsk> {
        match (self.0, ask) {
            (Order::Lead, Ask::Lead(own)) | (Order::Lag, Ask::Lag(own)) => Some(own),
            _ => None,
        }
    }
}

impl Catalogued for PoleZero {
    fn id(&self) -> &'static str {
        match self.0 {
            Order::Lead => "lead-two-op-amps",
            Order::Lag => "lag-two-op-amps",
        }
    }

    fn title(&self) -> &'static str {
        match self.0 {
            Order::Lead => "Lead with two op amps",
            Order::Lag => "Lag with two op amps",
        }
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .capacitor("C1", "in", "minus")
            .resistor("R2", "minus", "first")
            .capacitor("C2", "minus", "first")
            .op_amp("U1", "0", "minus", "first")
            .resistor("R3", "first", "second")
            .resistor("R4", "second", "out")
            .op_amp("U2", "0", "second", "out")
    }

    fn default_ask(&self) -> Ask {
        match self.0 {
            Order::Lead => lead::Lead.default_ask(),
            Order::Lag => lag::Lag.default_ask(),
        }
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R3]],
            solved: &[&[R1], &[R2], &[R4]],
            ..Grouping::default()
        }
    }
}

impl Stage for PoleZero {
    fn summary(&self) -> &'static str {
        "Keeps the sign; R1·C1 is the zero, R2·C2 the pole, and R4 sets the gain without moving either. Costs a second op amp."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, electronic lead or lag network and its place in the table of compensators",
        ]
    }

    fn drawing(&self) -> Drawing {
        Sketch::default()
            .input("", (0, 10))
            .wire(&[(0, 10), (2, 10)])
            .rail(2, &[6, 10])
            .rung(6, (2, 8), &["C1"])
            .rung(10, (2, 8), &["R1"])
            .rail(8, &[6, 10])
            .wire(&[(8, 10), (10, 10)])
            .inverting("U1", (11, 10), 18)
            .rail(10, &[2, 6, 10])
            .rung(2, (10, 18), &["C2"])
            .rung(6, (10, 18), &["R2"])
            .rail(18, &[2, 6, 11])
            .rung(11, (18, 26), &["R3"])
            .inverting("U2", (27, 11), 34)
            .rail(26, &[7, 11])
            .rung(7, (26, 34), &["R4"])
            .rail(34, &[7, 12])
            .out_of((34, 12))
            .done()
    }

    /// H = (R2·R4)/(R1·R3)·(1 + s·R1·C1)/(1 + s·R2·C2).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Some(ask) = self.own(ask) else { return };
        let tau = std::f64::consts::TAU;
        values[R1] = 1.0 / (tau * ask.zero * values[C1]);
        values[R2] = 1.0 / (tau * ask.pole * values[C2]);
        values[R4] = ask.gain * values[R3] * values[R1] / values[R2];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Some(own) = self.own(ask) else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "Higher corners, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "Lower corners, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "There are no capacitors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        let gain = own.gain * (own.pole / own.zero).max(1.0);
        let corner = own.pole.max(own.zero);
        reasons.extend(too_slow(op_amp, 1.0 + gain, corner));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        match (self.0, self.own(ask)) {
            (Order::Lead, Some(own)) => lead::advice(own),
            (Order::Lag, Some(own)) => lag::advice(own),
            (_, None) => Vec::new(),
        }
    }
}
