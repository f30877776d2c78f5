//! A plain RC notch, the bridged-T, between a source and a load: why one should not.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Given, Grouping, NotchAsk, Stage, SymbolKind};

pub struct BridgedT;

/// Positions in the netlist.
const RS: usize = 0;
const R1: usize = 1;
const R2: usize = 2;
const C1: usize = 3;
const C2: usize = 4;
const RL: usize = 5;

impl Catalogued for BridgedT {
    fn id(&self) -> &'static str {
        "bridged-t"
    }

    fn title(&self) -> &'static str {
        "Bridged-T, passive RC"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("RS", "in", "a")
            .resistor("R1", "a", "mid")
            .resistor("R2", "mid", "out")
            .capacitor("C1", "a", "out")
            .capacitor("C2", "mid", "0")
            .resistor("RL", "out", "0")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1, R2]],
            given: &[(RS, Given::Source), (RL, Given::Load)],
            ..Grouping::default()
        }
    }
}

impl Stage for BridgedT {
    fn summary(&self) -> &'static str {
        "Four parts and no op amp; shallow, wide, and changed by source and load: it disturbs the rest of the loop."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &["Nodal analysis, written out in the project's tests (bridged-T network)"]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 6))
            .symbol("RS", SymbolKind::Resistor(Horizontal), (2, 6))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (9, 6))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (16, 6))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (12, 2))
            .symbol("C2", SymbolKind::Capacitor(Vertical), (14, 8))
            .symbol("", SymbolKind::Ground, (14, 12))
            .symbol("RL", SymbolKind::Resistor(Vertical), (23, 8))
            .symbol("", SymbolKind::Ground, (23, 12))
            .symbol("", SymbolKind::Output, (28, 6))
            .wire(&[(0, 6), (2, 6)])
            .wire(&[(6, 6), (7, 6)])
            .wire(&[(7, 6), (9, 6)])
            .wire(&[(13, 6), (14, 6)])
            .wire(&[(14, 6), (16, 6)])
            .wire(&[(20, 6), (21, 6)])
            .wire(&[(7, 6), (7, 2), (12, 2)])
            .wire(&[(16, 2), (21, 2), (21, 6)])
            .wire(&[(14, 6), (14, 8)])
            .wire(&[(21, 6), (23, 6)])
            .wire(&[(23, 6), (23, 8)])
            .wire(&[(23, 6), (28, 6)])
    }

    /// f0 = 1/(2πR·√(C1·C2)) and 2·C1/(2·C1 + C2) of the signal left there, between a stiff source and no load.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let (c1, c2) = (values[C1], values[C2]);
        let r = 1.0 / (std::f64::consts::TAU * notch.frequency * (c1 * c2).sqrt());
        (values[R1], values[R2]) = (r, r);
    }

    fn reach(&self, ask: &Ask, _: &Shelf, _: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = vec![format!(
            "Q {} is out of reach: the deeper a bridged-T is, the wider it is, and its Q stays below a half. Without an op amp there is \
             no other way: use an active notch.",
            rounded(notch.q, Unit::One, 3)
        )];
        if notch.q <= 0.2 {
            reasons.clear();
        }
        if notch.depth.gain() > 0.0 {
            reasons.push("Its depth cannot be set.".into());
        }
        reasons
    }
}
