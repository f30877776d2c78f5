//! The notch by subtraction: what a band-pass lets through is taken from the signal.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct SubtractedNotch;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const C2: usize = 3;
const R3: usize = 4;
const R4: usize = 6;
const R5: usize = 7;
const R6: usize = 8;

impl Catalogued for SubtractedNotch {
    fn id(&self) -> &'static str {
        "subtracted-notch"
    }

    fn title(&self) -> &'static str {
        "Band-pass subtracted"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "x")
            .resistor("R2", "x", "0")
            .capacitor("C1", "x", "band")
            .capacitor("C2", "x", "minus")
            .resistor("R3", "minus", "band")
            .op_amp("U1", "0", "minus", "band")
            .resistor("R4", "in", "sum")
            .resistor("R5", "band", "sum")
            .resistor("R6", "sum", "out")
            .op_amp("U2", "0", "sum", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R4, R5, R6]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for SubtractedNotch {
    fn summary(&self) -> &'static str {
        "Two op amps; any depth, moderate Q, and the depth is set by one resistor; inverts."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (notch as 1 − band-pass)",
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 and 4 (band-reject from band-pass)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("R2", SymbolKind::Resistor(Vertical), (8, 10))
            .symbol("", SymbolKind::Ground, (8, 14))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (10, 8))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (16, 8))
            .symbol("", SymbolKind::Ground, (15, 12))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (10, 2))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (16, 5))
            .symbol("R5", SymbolKind::Resistor(Horizontal), (24, 9))
            .symbol("R4", SymbolKind::Resistor(Horizontal), (24, 17))
            .symbol("U2", SymbolKind::OpAmp { plus_above: false }, (31, 9))
            .symbol("", SymbolKind::Ground, (31, 13))
            .symbol("R6", SymbolKind::Resistor(Horizontal), (31, 5))
            .symbol("", SymbolKind::Output, (40, 10))
            .wire(&[(0, 8), (2, 8)])
            .wire(&[(2, 8), (3, 8)])
            .wire(&[(7, 8), (8, 8)])
            .wire(&[(8, 8), (8, 10)])
            .wire(&[(8, 8), (10, 8)])
            .wire(&[(14, 8), (15, 8)])
            .wire(&[(15, 8), (16, 8)])
            .wire(&[(16, 10), (15, 10), (15, 12)])
            .wire(&[(8, 8), (8, 2), (10, 2)])
            .wire(&[(14, 2), (22, 2), (22, 5)])
            .wire(&[(22, 5), (22, 9)])
            .wire(&[(15, 8), (15, 5), (16, 5)])
            .wire(&[(20, 5), (22, 5)])
            .wire(&[(21, 9), (22, 9)])
            .wire(&[(22, 9), (24, 9)])
            .wire(&[(28, 9), (29, 9)])
            .wire(&[(2, 8), (2, 17), (24, 17)])
            .wire(&[(28, 17), (29, 17), (29, 9)])
            .wire(&[(29, 9), (30, 9)])
            .wire(&[(30, 9), (31, 9)])
            .wire(&[(31, 11), (31, 13)])
            .wire(&[(30, 9), (30, 5), (31, 5)])
            .wire(&[(35, 5), (37, 5), (37, 10)])
            .wire(&[(36, 10), (37, 10)])
            .wire(&[(37, 10), (40, 10)])
    }

    /// With r = R1 ∥ R2 the band-pass has ω0² = 1/(r·R3·C1·C2), Q = √(r·R3·C1·C2)/(r·(C1 + C2)) and at ω0
    /// the gain −R3·C2/(R1·(C1 + C2)); a full null wants −1 there, a depth d wants −(1 − d).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let q = notch.pole_q();
        let parallel = 1.0 / (omega * q * (c1 + c2));
        values[R3] = q * (c1 + c2) / (omega * c1 * c2);
        values[R1] = values[R3] * c2 / ((c1 + c2) * (1.0 - notch.depth.gain()));
        // Below a Q of about 0.7 nothing is left to divide away.
        values[R2] = 1.0 / (1.0 / parallel - 1.0 / values[R1]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        // R2 is positive where 1/r > 1/R1: Q²·(C1 + C2)/C1 > 1 − d at best with C2 far larger than C1.
        if notch.q < 0.5 {
            reasons.push(format!(
                "Q {} is too low for this circuit: its band-pass would need a gain of 1 that it has not; a Q of 0.75 or more is \
                 within reach of equal capacitors.",
                rounded(notch.q, Unit::One, 3)
            ));
        }
        let inner = 2.0 * notch.q * notch.q;
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
