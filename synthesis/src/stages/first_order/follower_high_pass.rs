//! A passive high-pass with a follower behind it.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::CORNERS;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{Ask, Catalogued, CornerAsk, Drawing, Grouping, Stage, SymbolKind};

pub struct FollowerHighPass;

/// Positions in the netlist.
const C1: usize = 0;
const R1: usize = 1;

impl Catalogued for FollowerHighPass {
    fn id(&self) -> &'static str {
        "follower-high-pass"
    }

    fn title(&self) -> &'static str {
        "High-pass with follower"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "plus")
            .resistor("R1", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass1(CornerAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1]],
            ..Grouping::default()
        }
    }
}

impl Stage for FollowerHighPass {
    fn summary(&self) -> &'static str {
        "The fewest parts and a gain of exactly 1; R1 carries the bias current, and the op amp ends the passband."
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
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 8))
            .symbol("R1", SymbolKind::Resistor(Vertical), (9, 13))
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
        let Ask::HighPass1(corner) = ask else { return };
        let omega = TAU * corner.frequency;
        values[R1] = 1.0 / (omega * values[C1]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass1(corner) = ask else {
            return Vec::new();
        };
        [
            guidance::only_unity(
                corner.gain,
                corner.gain_limit,
                "The non-inverting high-pass above 1, the inverting one below",
            ),
            guidance::off_the_shelf(shelf, corner.frequency),
            guidance::passband_too_slow(op_amp, 1.0, CORNERS * corner.frequency, corner.gain_limit),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}
