//! The inverting low-pass: an integrator held at DC.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::Horizontal;
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, CornerAsk, Drawing, Grouping, Stage, SymbolKind};

pub struct InvertingLowPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;

impl Catalogued for InvertingLowPass {
    fn id(&self) -> &'static str {
        "inverting-low-pass"
    }

    fn title(&self) -> &'static str {
        "Inverting low-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .capacitor("C1", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LowPass1(CornerAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for InvertingLowPass {
    fn summary(&self) -> &'static str {
        "Any gain, below 1 too, and a corner that does not move with it; inverts, and loads its source with R1."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (first-order active filters)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (first-order filters)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (13, 4))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (13, 0))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (12, 8))
            .symbol("", SymbolKind::Ground, (11, 12))
            .symbol("", SymbolKind::Output, (22, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (10, 8)])
            .wire(&[(10, 8), (12, 8)])
            .wire(&[(10, 8), (10, 4)])
            .wire(&[(10, 4), (13, 4)])
            .wire(&[(10, 4), (10, 0), (13, 0)])
            .wire(&[(12, 10), (11, 10), (11, 12)])
            .wire(&[(17, 9), (19, 9)])
            .wire(&[(19, 9), (22, 9)])
            .wire(&[(17, 4), (19, 4)])
            .wire(&[(19, 4), (19, 9)])
            .wire(&[(17, 0), (19, 0), (19, 4)])
    }

    /// With an ideal op amp ω = 1/(R2·C1) and the gain is R2/R1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LowPass1(corner) = ask else { return };
        let omega = TAU * corner.frequency;
        values[R2] = 1.0 / (omega * values[C1]);
        values[R1] = values[R2] / corner.gain;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass1(corner) = ask else {
            return Vec::new();
        };
        [
            guidance::off_the_shelf(shelf, corner.frequency),
            guidance::resistors_apart(
                shelf,
                corner.gain.max(1.0 / corner.gain),
                "a ratio of R1 and R2",
                &format!("A gain of {}", number(corner.gain)),
                "A gain nearer to 1",
            ),
            guidance::too_slow(op_amp, 1.0 + corner.gain, corner.frequency, "less gain"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, _ask: &Ask, _op_amp: &OpAmp) -> Vec<String> {
        vec![guidance::inverts()]
    }
}
