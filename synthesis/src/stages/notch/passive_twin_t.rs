//! The passive twin-T between a source and a load: why one should not.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Given, Grouping, NotchAsk, Stage, SymbolKind};

pub struct PassiveTwinT;

/// Positions in the netlist.
const RS: usize = 0;
const R1: usize = 1;
const R2: usize = 2;
const C3: usize = 3;
const C4: usize = 4;
const C1: usize = 5;
const C2: usize = 6;
const R3: usize = 7;
const R4: usize = 8;
const RL: usize = 9;

impl Catalogued for PassiveTwinT {
    fn id(&self) -> &'static str {
        "passive-twin-t"
    }

    fn title(&self) -> &'static str {
        "Twin-T, passive"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("RS", "in", "a")
            .resistor("R1", "a", "b")
            .resistor("R2", "b", "out")
            .capacitor("C3", "b", "0")
            .capacitor("C4", "b", "0")
            .capacitor("C1", "a", "c")
            .capacitor("C2", "c", "out")
            .resistor("R3", "0", "c")
            .resistor("R4", "0", "c")
            .resistor("RL", "out", "0")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1, C2, C3, C4]],
            solved: &[&[R1, R2, R3, R4]],
            given: &[(RS, Given::Source), (RL, Given::Load)],
            ..Grouping::default()
        }
    }
}

impl Stage for PassiveTwinT {
    fn summary(&self) -> &'static str {
        "No op amp; a Q of a quarter at best, so it costs a loop much phase, and source and load change it."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &["“Op Amps for Everyone”, ch. 16 (passive twin-T: Q 0.25)"]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 10))
            .symbol("RS", SymbolKind::Resistor(Horizontal), (2, 10))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (8, 3))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (20, 3))
            .symbol("C3", SymbolKind::Capacitor(Vertical), (13, 4))
            .symbol("C4", SymbolKind::Capacitor(Vertical), (19, 4))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (8, 17))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (20, 17))
            .symbol("R3", SymbolKind::Resistor(Vertical), (13, 12))
            .symbol("R4", SymbolKind::Resistor(Vertical), (19, 12))
            .symbol("", SymbolKind::Ground, (22, 10))
            .symbol("RL", SymbolKind::Resistor(Vertical), (28, 11))
            .symbol("", SymbolKind::Ground, (28, 15))
            .symbol("", SymbolKind::Output, (33, 10))
            .wire(&[(0, 10), (2, 10)])
            .wire(&[(6, 10), (7, 10)])
            .wire(&[(7, 10), (7, 3), (8, 3)])
            .wire(&[(7, 10), (7, 17), (8, 17)])
            .wire(&[(12, 3), (13, 3)])
            .wire(&[(13, 3), (19, 3)])
            .wire(&[(19, 3), (20, 3)])
            .wire(&[(13, 3), (13, 4)])
            .wire(&[(19, 3), (19, 4)])
            .wire(&[(13, 8), (13, 9)])
            .wire(&[(19, 8), (19, 9)])
            .wire(&[(13, 9), (19, 9)])
            .wire(&[(19, 9), (22, 9), (22, 10)])
            .wire(&[(13, 9), (13, 12)])
            .wire(&[(19, 9), (19, 12)])
            .wire(&[(13, 16), (13, 17)])
            .wire(&[(19, 16), (19, 17)])
            .wire(&[(12, 17), (13, 17)])
            .wire(&[(13, 17), (19, 17)])
            .wire(&[(19, 17), (20, 17)])
            .wire(&[(24, 3), (25, 3), (25, 10)])
            .wire(&[(24, 17), (25, 17), (25, 10)])
            .wire(&[(25, 10), (28, 10)])
            .wire(&[(28, 10), (28, 11)])
            .wire(&[(28, 10), (33, 10)])
    }

    /// f0 = 1/(2πRC) between a source of none and a load of endless resistance; Q = 1/4 there.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        for part in [R1, R2, R3, R4] {
            values[part] = 1.0 / (std::f64::consts::TAU * notch.frequency * values[C1]);
        }
    }

    fn reach(&self, ask: &Ask, _: &Shelf, _: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = vec![format!(
            "Q {} is out of reach: a passive twin-T has 0.25 between a stiff source and no load, and less between real ones. Without an \
             op amp there is no other way: use an active notch.",
            rounded(notch.q, Unit::One, 3)
        )];
        if notch.q <= 0.25 {
            reasons.clear();
        }
        if notch.depth.gain() > 0.0 {
            reasons.push("Its depth cannot be set.".into());
        }
        reasons
    }
}
