//! The two-op-amp gyrator notch: two op amps turn a capacitor into an inductor, and f0 and Q are set apart.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct GyratorNotch;

/// Positions in the netlist.
const C2: usize = 0;
const R5: usize = 1;
const R6: usize = 2;
const R1: usize = 3;
const C1: usize = 4;
const R2: usize = 5;
const R3: usize = 6;
const R4: usize = 7;

impl Catalogued for GyratorNotch {
    fn id(&self) -> &'static str {
        "gyrator-notch"
    }

    fn title(&self) -> &'static str {
        "Gyrator, two op amps"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C2", "in", "top")
            .resistor("R5", "in", "top")
            .resistor("R6", "top", "0")
            .resistor("R1", "top", "a")
            .capacitor("C1", "a", "mid")
            .resistor("R2", "mid", "out")
            .resistor("R3", "out", "low")
            .resistor("R4", "low", "in")
            .op_amp("U1", "top", "mid", "out")
            .op_amp("U2", "low", "mid", "a")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1, R2, R3, R4], &[R5], &[R6]],
            ..Grouping::default()
        }
    }
}

impl Stage for GyratorNotch {
    fn summary(&self) -> &'static str {
        "Two op amps; f0 by four equal resistors, Q by two others, unity gain, high Q with small spread."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "A. Antoniou, “Realisation of gyrators using operational amplifiers”, Proc. IEE 116, 1969 (the converter)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (generalised impedance converters)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (-1, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (2, 8))
            .symbol("R5", SymbolKind::Resistor(Horizontal), (2, 12))
            .symbol("R6", SymbolKind::Resistor(Vertical), (6, 17))
            .symbol("", SymbolKind::Ground, (6, 21))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (7, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (13, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (19, 8))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (25, 8))
            .symbol("R4", SymbolKind::Resistor(Horizontal), (31, 8))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (16, 14))
            .symbol("U2", SymbolKind::OpAmp { plus_above: true }, (22, 5))
            .symbol("", SymbolKind::Output, (28, 15))
            .wire(&[(-1, 8), (1, 8)])
            .wire(&[(1, 8), (2, 8)])
            .wire(&[(1, 8), (1, 12), (2, 12)])
            .wire(&[(6, 8), (7, 8)])
            .wire(&[(6, 8), (6, 12)])
            .wire(&[(6, 12), (6, 16)])
            .wire(&[(6, 16), (6, 17)])
            .wire(&[(6, 16), (16, 16)])
            .wire(&[(11, 8), (12, 8)])
            .wire(&[(12, 8), (13, 8)])
            .wire(&[(17, 8), (18, 8)])
            .wire(&[(18, 8), (19, 8)])
            .wire(&[(18, 8), (18, 11), (15, 11), (15, 14), (16, 14)])
            .wire(&[(18, 8), (18, 5), (22, 5)])
            .wire(&[(23, 8), (24, 8)])
            .wire(&[(24, 8), (25, 8)])
            .wire(&[(24, 8), (24, 15)])
            .wire(&[(21, 15), (24, 15)])
            .wire(&[(24, 15), (28, 15)])
            .wire(&[(29, 8), (30, 8)])
            .wire(&[(30, 8), (31, 8)])
            .wire(&[(30, 8), (30, 1), (21, 1), (21, 3), (22, 3)])
            .wire(&[(27, 4), (28, 4), (28, -1), (12, -1), (12, 8)])
            .wire(&[(1, 8), (1, -3), (36, -3), (36, 8), (35, 8)])
    }

    /// Nodal analysis with equal R1 to R4 gives, with g = 1/R5 + 1/R6 and h = 1/R5 − 1/R6,
    /// H = (s²·C1·C2 + s·C1·h + 1/R²)/(s²·C1·C2 + s·C1·g + 1/R²): ω0 = 1/(R·√(C1·C2)), Q = ω0·C2/g, and at ω0
    /// the gain h/g, which is the depth.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        for part in [R1, R2, R3, R4] {
            values[part] = 1.0 / (omega * (c1 * c2).sqrt());
        }
        let g = omega * c2 / notch.pole_q();
        let d = notch.depth.gain();
        values[R5] = 2.0 / (g * (1.0 + d));
        values[R6] = 2.0 / (g * (1.0 - d));
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        let inner = 2.0 * notch.q;
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
