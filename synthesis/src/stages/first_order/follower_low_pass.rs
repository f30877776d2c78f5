//! A passive low-pass with a follower behind it.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{Ask, Catalogued, CornerAsk, Drawing, Grouping, Stage, SymbolKind};

pub struct FollowerLowPass;

/// Positions in the netlist.
const R1: usize = 0;
const C1: usize = 1;

impl Catalogued for FollowerLowPass {
    fn id(&self) -> &'static str {
        "follower-low-pass"
    }

    fn title(&self) -> &'static str {
        "Low-pass with follower"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "plus")
            .capacitor("C1", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LowPass1(CornerAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1]],
            ..Grouping::default()
        }
    }
}

impl Stage for FollowerLowPass {
    fn summary(&self) -> &'static str {
        "The fewest parts, a gain of exactly 1 and a low output impedance; no gain to be had."
    }

    fn sign(&self) -> i8 {
        1
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
            .symbol("C1", SymbolKind::Capacitor(Vertical), (9, 13))
            .symbol("", SymbolKind::Ground, (9, 17))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (12, 10))
            .symbol("", SymbolKind::Output, (22, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (12, 8)])
            .wire(&[(9, 8), (9, 13)])
            .wire(&[(12, 10), (11, 10), (11, 12), (19, 12), (19, 9)])
            .wire(&[(17, 9), (19, 9)])
            .wire(&[(19, 9), (22, 9)])
    }

    /// ω = 1/(R1·C1).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LowPass1(corner) = ask else { return };
        let omega = TAU * corner.frequency;
        values[R1] = 1.0 / (omega * values[C1]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass1(corner) = ask else {
            return Vec::new();
        };
        [
            guidance::only_unity(
                corner.gain,
                corner.gain_limit,
                "The non-inverting low-pass above 1, the inverting one below",
            ),
            guidance::off_the_shelf(shelf, corner.frequency),
            guidance::too_slow(op_amp, 1.0, corner.frequency, ""),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}
