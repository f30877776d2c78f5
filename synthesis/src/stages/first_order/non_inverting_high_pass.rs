//! A passive high-pass with a non-inverting amplifier behind it.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::CORNERS;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{Ask, Catalogued, CornerAsk, Drawing, Grouping, Stage, SymbolKind};

pub struct NonInvertingHighPass;

/// Positions in the netlist.
const C1: usize = 0;
const R1: usize = 1;
const R2: usize = 2;
const R3: usize = 3;

impl Catalogued for NonInvertingHighPass {
    fn id(&self) -> &'static str {
        "non-inverting-high-pass"
    }

    fn title(&self) -> &'static str {
        "Non-inverting high-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "plus")
            .resistor("R1", "plus", "0")
            .resistor("R2", "minus", "out")
            .resistor("R3", "minus", "0")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass1(CornerAsk {
            gain: 2.0,
            ..CornerAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1]],
            solved: &[&[R1]],
            dividers: &[(R2, R3)],
            ..Grouping::default()
        }
    }
}

impl Stage for NonInvertingHighPass {
    fn summary(&self) -> &'static str {
        "A corner and a gain that do not touch each other; the gain is more than 1, and the op amp ends the passband."
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
            .symbol("R1", SymbolKind::Resistor(Vertical), (9, 11))
            .symbol("", SymbolKind::Ground, (9, 15))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (17, 10))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (18, 14))
            .symbol("R3", SymbolKind::Resistor(Vertical), (16, 16))
            .symbol("", SymbolKind::Ground, (16, 20))
            .symbol("", SymbolKind::Output, (27, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (17, 8)])
            .wire(&[(9, 8), (9, 11)])
            .wire(&[(17, 10), (16, 10), (16, 14)])
            .wire(&[(16, 14), (18, 14)])
            .wire(&[(16, 14), (16, 16)])
            .wire(&[(22, 14), (24, 14), (24, 9)])
            .wire(&[(22, 9), (24, 9)])
            .wire(&[(24, 9), (27, 9)])
    }

    /// With an ideal op amp ω = 1/(R1·C1) and the gain is 1 + R2/R3.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::HighPass1(corner) = ask else { return };
        let omega = TAU * corner.frequency;
        values[R1] = 1.0 / (omega * values[C1]);
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        values[R2] = 10e3 * corner.gain;
        values[R3] = 10e3 * corner.gain / (corner.gain - 1.0).max(1e-9);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass1(corner) = ask else {
            return Vec::new();
        };
        [
            guidance::amplifier(
                corner.gain,
                shelf,
                "The follower for 1, the inverting high-pass below,",
            ),
            guidance::off_the_shelf(shelf, corner.frequency),
            guidance::passband_too_slow(
                op_amp,
                corner.gain.max(1.0),
                CORNERS * corner.frequency,
                corner.gain_limit,
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}
