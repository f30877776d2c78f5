//! The three-op-amp notch whose depth does not hang on matching.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct BainterNotch;

/// Positions in the netlist.
pub(super) const R1: usize = 0;
pub(super) const R2: usize = 1;
pub(super) const R3: usize = 3;
pub(super) const R4: usize = 4;
pub(super) const C1: usize = 5;
pub(super) const R5: usize = 7;
pub(super) const R6: usize = 8;
pub(super) const C2: usize = 9;

impl Catalogued for BainterNotch {
    fn id(&self) -> &'static str {
        "bainter-notch"
    }

    fn title(&self) -> &'static str {
        "Bainter notch"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "n1")
            .resistor("R2", "n1", "a")
            .op_amp("U1", "0", "n1", "a")
            .resistor("R3", "a", "n2")
            .resistor("R4", "n2", "out")
            .capacitor("C1", "n2", "b")
            .op_amp("U2", "0", "n2", "b")
            .resistor("R5", "b", "p")
            .resistor("R6", "p", "0")
            .capacitor("C2", "in", "p")
            .op_amp("U3", "p", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R2]],
            solved: &[&[R3, R4], &[R5, R6]],
            ..Grouping::default()
        }
    }
}

impl Stage for BainterNotch {
    fn summary(&self) -> &'static str {
        "Three op amps; the null is as deep as the op amps allow, whatever the parts do; unity gain above."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "J. R. Bainter, “Active filter has stable notch, and response can be regulated”, Electronics, 1975",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (Bainter notch)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 10))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 10))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (10, 6))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (10, 10))
            .symbol("", SymbolKind::Ground, (10, 14))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (17, 11))
            .symbol("U2", SymbolKind::OpAmp { plus_above: false }, (24, 11))
            .symbol("", SymbolKind::Ground, (24, 15))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (24, 7))
            .symbol("R5", SymbolKind::Resistor(Horizontal), (31, 12))
            .symbol("R6", SymbolKind::Resistor(Vertical), (36, 14))
            .symbol("", SymbolKind::Ground, (36, 18))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (28, 21))
            .symbol("U3", SymbolKind::OpAmp { plus_above: true }, (43, 14))
            .symbol("R4", SymbolKind::Resistor(Horizontal), (24, 2))
            .symbol("", SymbolKind::Output, (53, 13))
            .wire(&[(0, 10), (2, 10)])
            .wire(&[(2, 10), (3, 10)])
            .wire(&[(7, 10), (8, 10)])
            .wire(&[(8, 10), (10, 10)])
            .wire(&[(10, 12), (10, 14)])
            .wire(&[(8, 10), (8, 6), (10, 6)])
            .wire(&[(14, 6), (16, 6), (16, 11)])
            .wire(&[(15, 11), (16, 11)])
            .wire(&[(16, 11), (17, 11)])
            .wire(&[(21, 11), (22, 11)])
            .wire(&[(22, 11), (24, 11)])
            .wire(&[(24, 13), (24, 15)])
            .wire(&[(22, 11), (22, 7)])
            .wire(&[(22, 7), (24, 7)])
            .wire(&[(28, 7), (30, 7), (30, 12)])
            .wire(&[(29, 12), (30, 12)])
            .wire(&[(30, 12), (31, 12)])
            .wire(&[(35, 12), (36, 12)])
            .wire(&[(36, 12), (36, 14)])
            .wire(&[(36, 12), (41, 12)])
            .wire(&[(41, 12), (43, 12)])
            .wire(&[(2, 10), (2, 21), (28, 21)])
            .wire(&[(32, 21), (41, 21), (41, 12)])
            .wire(&[(48, 13), (49, 13)])
            .wire(&[(49, 13), (49, 17), (42, 17), (42, 14), (43, 14)])
            .wire(&[(49, 13), (51, 13)])
            .wire(&[(51, 13), (53, 13)])
            .wire(&[(51, 13), (51, 2), (28, 2)])
            .wire(&[(24, 2), (22, 2), (22, 7)])
    }

    /// Nodal analysis with g = R2/R1: ωz² = g/(R3·R5·C1·C2), ω0² = 1/(R4·R5·C1·C2), Q = ω0·C2·(R5 ∥ R6), and
    /// far above the gain is 1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        let q = notch.pole_q();
        (values[R3], values[R4]) = {
            let r = 1.0 / (2.0 * q * omega * values[C1]);
            (r, r)
        };
        (values[R5], values[R6]) = {
            let r = 2.0 * q / (omega * values[C2]);
            (r, r)
        };
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        if notch.depth.gain() > 0.0 {
            reasons.push("A depth that is not full is out of this circuit's reach: its null is complete whatever the parts are. Require \
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
