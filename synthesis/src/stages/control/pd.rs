//! Proportional and derivative action with a roll-off: the lead's circuit, asked for in other words.

use super::lead::{GROUPING, design, drawing, netlist, speed};
use super::reach::{Remedy, off_shelf};
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PdAsk, Stage};

pub struct Pd;

impl Catalogued for Pd {
    fn id(&self) -> &'static str {
        "pd"
    }

    fn title(&self) -> &'static str {
        "PD controller with roll-off"
    }

    fn netlist(&self) -> Netlist {
        netlist()
    }

    fn default_ask(&self) -> Ask {
        Ask::Pd(PdAsk::default())
    }

    fn grouping(&self) -> Grouping {
        GROUPING
    }
}

impl Stage for Pd {
    fn summary(&self) -> &'static str {
        "Damps a loop with one op amp; the roll-off keeps noise and the op amp in bounds, and nothing is integrated."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Ogata, “Modern Control Engineering”, table of operational-amplifier circuits used as compensators (PD)",
            "Franklin, Powell and Emami-Naeini, “Feedback Control of Dynamic Systems”, ch. 4 and 6 (PD control, its practical form)",
        ]
    }

    fn drawing(&self) -> Drawing {
        drawing()
    }

    /// Kp = R3/R1 and Td = R1·C1, exactly, with the roll-off at 1/(R2·C1).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Pd(ask) = ask else { return };
        design(ask.gain, (ask.zero(), ask.roll_off), values);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Pd(own) = ask else {
            return Vec::new();
        };
        let remedy = Remedy {
            large: "A shorter derivative time, a gain nearer to 1, larger capacitors or a wider range of resistors",
            small: "A longer derivative time, a lower roll-off, a gain nearer to 1, smaller capacitors or a wider range of resistors",
            none: "There are no capacitors on this shelf.",
        };
        let mut reasons = off_shelf(self, ask, shelf, &remedy);
        reasons.extend(speed(op_amp, own.gain, (own.zero(), own.roll_off)));
        reasons
    }

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::Pd(ask) = ask else { return Vec::new() };
        let ratio = ask.roll_off / ask.zero();
        vec![format!(
            "A step at its input comes out {} times as large at first as later; let the derivative act on the measured value alone \
             where the reference jumps.",
            rounded(ratio, Unit::One, 3),
        )]
    }
}
