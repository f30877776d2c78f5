//! The inverting high-pass: a differentiator held at high frequencies.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::CORNERS;
use crate::stages::drawing::Orientation::Horizontal;
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, CornerAsk, Drawing, Grouping, Stage, SymbolKind};

pub struct InvertingHighPass;

/// Positions in the netlist.
const C1: usize = 0;
const R1: usize = 1;
const R2: usize = 2;

impl Catalogued for InvertingHighPass {
    fn id(&self) -> &'static str {
        "inverting-high-pass"
    }

    fn title(&self) -> &'static str {
        "Inverting high-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "mid")
            .resistor("R1", "mid", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass1(CornerAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for InvertingHighPass {
    fn summary(&self) -> &'static str {
        "Any gain, below 1 too, and no DC from its source; inverts, and the op amp ends the passband."
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
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (9, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (18, 4))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (17, 8))
            .symbol("", SymbolKind::Ground, (16, 12))
            .symbol("", SymbolKind::Output, (27, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(13, 8), (15, 8)])
            .wire(&[(15, 8), (17, 8)])
            .wire(&[(15, 8), (15, 4), (18, 4)])
            .wire(&[(17, 10), (16, 10), (16, 12)])
            .wire(&[(22, 9), (24, 9)])
            .wire(&[(24, 9), (27, 9)])
            .wire(&[(22, 4), (24, 4), (24, 9)])
    }

    /// With an ideal op amp ω = 1/(R1·C1) and the gain is R2/R1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::HighPass1(corner) = ask else { return };
        let omega = TAU * corner.frequency;
        values[R1] = 1.0 / (omega * values[C1]);
        values[R2] = values[R1] * corner.gain;
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass1(corner) = ask else {
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
            guidance::passband_too_slow(
                op_amp,
                1.0 + corner.gain,
                CORNERS * corner.frequency,
                corner.gain_limit,
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, _ask: &Ask, _op_amp: &OpAmp) -> Vec<String> {
        vec![guidance::inverts()]
    }
}
