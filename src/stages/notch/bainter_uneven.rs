//! The three-op-amp notch with its null apart from its poles: low-pass notch or high-pass notch.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Drawing, Grouping, Stage, SymbolKind, UnevenNotchAsk};

pub struct BainterUneven;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 3;
const R4: usize = 4;
const C1: usize = 5;
const R5: usize = 7;
const R6: usize = 8;
const C2: usize = 9;

impl Stage for BainterUneven {
    fn id(&self) -> &'static str {
        "bainter-uneven-notch"
    }

    fn title(&self) -> &'static str {
        "Bainter, null apart"
    }

    fn summary(&self) -> &'static str {
        "Three op amps; the null does not hang on matching; the gain far above is 1, that at DC the square of null over pole frequency."
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

    fn default_ask(&self) -> Ask {
        Ask::UnevenNotch(UnevenNotchAsk {
            gain: (5000.0f64 / 3500.0).powi(2),
            ..UnevenNotchAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R2]],
            solved: &[&[R3], &[R4], &[R5, R6]],
            ..Grouping::default()
        }
    }

    /// As for the notch with equal frequencies, but R3 sets the null and R4 the poles:
    /// ωz² = 1/(R3·R5·C1·C2), ω0² = 1/(R4·R5·C1·C2), Q = ω0·C2·(R5 ∥ R6).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::UnevenNotch(wanted) = ask else {
            return;
        };
        let (zero, pole) = [wanted.null, wanted.frequency]
            .map(|f| std::f64::consts::TAU * f)
            .into();
        let (c1, c2) = (values[C1], values[C2]);
        let r = 2.0 * wanted.q / (pole * c2);
        (values[R5], values[R6]) = (r, r);
        values[R3] = 1.0 / (zero * zero * r * c1 * c2);
        values[R4] = 1.0 / (pole * pole * r * c1 * c2);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::UnevenNotch(wanted) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        let gain = (wanted.null / wanted.frequency).powi(2);
        if (wanted.gain / gain - 1.0).abs() > wanted.gain_limit {
            reasons.push(format!(
                "Gain at DC is {} in this circuit, the square of null over pole frequency, because far above it is 1. That gain, \
                 or the state-variable circuit, whose gain is free, would bring it back.",
                rounded(gain, Unit::One, 4)
            ));
        }
        let inner = 4.0 * wanted.q;
        reasons.extend(guidance::off_the_shelf(shelf, wanted.frequency));
        reasons.extend(guidance::too_slow(
            op_amp,
            inner,
            wanted.frequency,
            "a lower Q",
        ));
        reasons
    }
}
