//! The first-order all-pass.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{AllPass1Ask, Ask, Catalogued, Drawing, Grouping, Stage, SymbolKind};

pub struct FirstOrderAllPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 2;
const C1: usize = 3;

impl Catalogued for FirstOrderAllPass {
    fn id(&self) -> &'static str {
        "all-pass-1"
    }

    fn title(&self) -> &'static str {
        "First-order all-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .resistor("R3", "in", "plus")
            .capacitor("C1", "plus", "0")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::AllPass1(AllPass1Ask::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            free: &[&[R1, R2]],
            solved: &[&[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for FirstOrderAllPass {
    fn summary(&self) -> &'static str {
        "Turns the phase from 0° to −180° with a gain of 1; R1 and R2 must match, or the gain differs below and above the turn."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (phase shifters)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (all-pass filters)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (5, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (15, 4))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (5, 14))
            .symbol("C1", SymbolKind::Capacitor(Vertical), (11, 15))
            .symbol("", SymbolKind::Ground, (11, 19))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (14, 8))
            .symbol("", SymbolKind::Output, (24, 9))
            .wire(&[(0, 8), (2, 8)])
            .wire(&[(2, 8), (5, 8)])
            .wire(&[(2, 8), (2, 14), (5, 14)])
            .wire(&[(9, 8), (12, 8)])
            .wire(&[(12, 8), (14, 8)])
            .wire(&[(12, 8), (12, 4), (15, 4)])
            .wire(&[(9, 14), (11, 14)])
            .wire(&[(11, 14), (11, 15)])
            .wire(&[(11, 14), (13, 14), (13, 10), (14, 10)])
            .wire(&[(19, 9), (21, 9)])
            .wire(&[(21, 9), (24, 9)])
            .wire(&[(19, 4), (21, 4), (21, 9)])
    }

    /// With an ideal op amp and R1 = R2, H = (1 − s·R3·C1)/(1 + s·R3·C1).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::AllPass1(turn) = ask else { return };
        values[R3] = 1.0 / (TAU * turn.frequency * values[C1]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::AllPass1(turn) = ask else {
            return Vec::new();
        };
        [
            guidance::off_the_shelf(shelf, turn.frequency),
            guidance::too_slow(op_amp, 2.0, turn.frequency, ""),
            guidance::passband_too_slow(op_amp, 2.0, turn.frequency, turn.gain_limit),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, _ask: &Ask, _op_amp: &OpAmp) -> Vec<String> {
        vec![
            "R3 and C1 changed for one another turn the phase from 180° to 0° instead: the same, with an inverter."
                .to_owned(),
        ]
    }
}
