//! The state-variable notch: high-pass and low-pass outputs, summed.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct StateVariableNotch;

/// Positions in the netlist.
pub(super) const R1: usize = 0;
pub(super) const R2: usize = 1;
pub(super) const R3: usize = 2;
pub(super) const R4: usize = 3;
pub(super) const R5: usize = 4;
pub(super) const R6: usize = 6;
pub(super) const C1: usize = 7;
pub(super) const R7: usize = 9;
pub(super) const C2: usize = 10;
pub(super) const R8: usize = 12;
pub(super) const R9: usize = 13;
pub(super) const R10: usize = 14;

impl Catalogued for StateVariableNotch {
    fn id(&self) -> &'static str {
        "state-variable-notch"
    }

    fn title(&self) -> &'static str {
        "State variable, summed"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "n1")
            .resistor("R2", "n1", "low")
            .resistor("R3", "n1", "high")
            .resistor("R4", "p1", "band")
            .resistor("R5", "p1", "0")
            .op_amp("U1", "p1", "n1", "high")
            .resistor("R6", "high", "n2")
            .capacitor("C1", "n2", "band")
            .op_amp("U2", "0", "n2", "band")
            .resistor("R7", "band", "n3")
            .capacitor("C2", "n3", "low")
            .op_amp("U3", "0", "n3", "low")
            .resistor("R8", "high", "n4")
            .resistor("R9", "low", "n4")
            .resistor("R10", "n4", "out")
            .op_amp("U4", "0", "n4", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R2, R3, R8, R9, R10]],
            solved: &[&[R6, R7]],
            dividers: &[(R4, R5)],
            ..Grouping::default()
        }
    }
}

impl Stage for StateVariableNotch {
    fn summary(&self) -> &'static str {
        "Four op amps; low sensitivities and high Q, f0 and Q set independently; many parts."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "W. J. Kerwin, L. P. Huelsman, R. W. Newcomb, “State-variable synthesis for insensitive integrated circuit transfer functions”, IEEE J. Solid-State Circuits 2, 1967",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (state variable)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (2, 8))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (10, 8))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (10, 4))
            .symbol("R6", SymbolKind::Resistor(Horizontal), (17, 9))
            .symbol("U2", SymbolKind::OpAmp { plus_above: false }, (24, 9))
            .symbol("", SymbolKind::Ground, (24, 13))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (24, 5))
            .symbol("R7", SymbolKind::Resistor(Horizontal), (31, 10))
            .symbol("U3", SymbolKind::OpAmp { plus_above: false }, (38, 10))
            .symbol("", SymbolKind::Ground, (38, 14))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (38, 6))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (10, 0))
            .symbol("R4", SymbolKind::Resistor(Horizontal), (20, 17))
            .symbol("R5", SymbolKind::Resistor(Vertical), (9, 18))
            .symbol("", SymbolKind::Ground, (9, 22))
            .symbol("R8", SymbolKind::Resistor(Horizontal), (40, 20))
            .symbol("R9", SymbolKind::Resistor(Vertical), (47, 12))
            .symbol("U4", SymbolKind::OpAmp { plus_above: false }, (50, 20))
            .symbol("", SymbolKind::Ground, (50, 24))
            .symbol("R10", SymbolKind::Resistor(Horizontal), (50, 16))
            .symbol("", SymbolKind::Output, (59, 21))
            .wire(&[(0, 8), (2, 8)])
            .wire(&[(6, 8), (7, 8)])
            .wire(&[(7, 8), (8, 8)])
            .wire(&[(8, 8), (10, 8)])
            .wire(&[(8, 8), (8, 4), (10, 4)])
            .wire(&[(14, 4), (16, 4), (16, 9)])
            .wire(&[(15, 9), (16, 9)])
            .wire(&[(16, 9), (17, 9)])
            .wire(&[(21, 9), (22, 9)])
            .wire(&[(22, 9), (24, 9)])
            .wire(&[(24, 11), (24, 13)])
            .wire(&[(22, 9), (22, 5), (24, 5)])
            .wire(&[(28, 5), (30, 5), (30, 10)])
            .wire(&[(29, 10), (30, 10)])
            .wire(&[(30, 10), (31, 10)])
            .wire(&[(35, 10), (36, 10)])
            .wire(&[(36, 10), (38, 10)])
            .wire(&[(38, 12), (38, 14)])
            .wire(&[(36, 10), (36, 6), (38, 6)])
            .wire(&[(42, 6), (44, 6)])
            .wire(&[(44, 6), (44, 11)])
            .wire(&[(43, 11), (44, 11)])
            .wire(&[(14, 0), (44, 0), (44, 6)])
            .wire(&[(10, 0), (7, 0), (7, 8)])
            .wire(&[(24, 17), (30, 17), (30, 10)])
            .wire(&[(20, 17), (9, 17)])
            .wire(&[(9, 17), (9, 10), (10, 10)])
            .wire(&[(9, 17), (9, 18)])
            .wire(&[(16, 9), (16, 20), (40, 20)])
            .wire(&[(44, 20), (47, 20)])
            .wire(&[(44, 11), (47, 11), (47, 12)])
            .wire(&[(47, 16), (47, 20)])
            .wire(&[(47, 20), (48, 20)])
            .wire(&[(48, 20), (50, 20)])
            .wire(&[(50, 22), (50, 24)])
            .wire(&[(48, 20), (48, 16), (50, 16)])
            .wire(&[(54, 16), (56, 16), (56, 21)])
            .wire(&[(55, 21), (56, 21)])
            .wire(&[(56, 21), (59, 21)])
    }

    /// With all summing resistors equal and k = R5/(R4 + R5): ω0² = 1/(R6·C1·R7·C2) and Q = ω0·R6·C1/(3k).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let r = 1.0 / (omega * (c1 * c2).sqrt());
        (values[R6], values[R7]) = (r, r);
        let k = omega * r * c1 / (3.0 * notch.pole_q());
        let parallel = 5e3;
        values[R4] = parallel / k;
        values[R5] = parallel / (1.0 - k);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        if notch.q < 0.35 {
            reasons.push("Q is too low for this circuit with equal summing resistors: a Q above 0.35 is within its reach.".into());
        }
        if notch.depth.gain() > 0.0 {
            reasons.push("A depth that is not full is out of this circuit's reach: what it sums has nothing left at the notch. Require \
                          a full null, or use a circuit whose depth a resistor sets.".into());
        }
        let inner = 4.0 * notch.q;
        reasons.extend(guidance::off_the_shelf(shelf, notch.frequency));
        reasons.extend(guidance::too_slow(
            op_amp,
            inner,
            notch.frequency,
            "a lower Q",
        ));
        reasons
    }
}
