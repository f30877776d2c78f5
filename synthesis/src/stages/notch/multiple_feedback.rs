//! The multiple-feedback notch: one op amp, and a null that a divider sets.
//!
//! An inverting multiple-feedback band-pass (R1, C1, C2, R2) whose op amp also sees a fraction of the
//! signal at its other input (R3, R4): at the notch frequency the two ways cancel.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct MfbNotch;

/// Positions in the netlist.
pub(in crate::stages) const R1: usize = 0;
pub(in crate::stages) const C1: usize = 1;
pub(in crate::stages) const C2: usize = 2;
pub(in crate::stages) const R2: usize = 3;
pub(in crate::stages) const R3: usize = 4;
pub(in crate::stages) const R4: usize = 5;

impl Catalogued for MfbNotch {
    fn id(&self) -> &'static str {
        "mfb-notch"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback notch"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "common")
            .capacitor("C1", "common", "out")
            .capacitor("C2", "common", "minus")
            .resistor("R2", "minus", "out")
            .resistor("R3", "in", "plus")
            .resistor("R4", "plus", "0")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2]],
            dividers: &[(R3, R4)],
            ..Grouping::default()
        }
    }
}

impl Stage for MfbNotch {
    fn summary(&self) -> &'static str {
        "One op amp, low output impedance, passband gain a little below 1; the depth depends on the divider R3, R4."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (multiple-feedback band-pass; notch as 1 − band-pass)",
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (multiple feedback)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (9, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (9, 1))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (16, 4))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (6, 14))
            .symbol("R4", SymbolKind::Resistor(Vertical), (12, 14))
            .symbol("", SymbolKind::Ground, (12, 18))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (15, 8))
            .symbol("", SymbolKind::Output, (25, 9))
            .wire(&[(0, 8), (2, 8)])
            .wire(&[(2, 8), (3, 8)])
            .wire(&[(2, 8), (2, 14), (6, 14)])
            .wire(&[(7, 8), (8, 8)])
            .wire(&[(8, 8), (9, 8)])
            .wire(&[(8, 8), (8, 1), (9, 1)])
            .wire(&[(13, 8), (14, 8)])
            .wire(&[(14, 8), (15, 8)])
            .wire(&[(14, 8), (14, 4), (16, 4)])
            .wire(&[(10, 14), (12, 14)])
            .wire(&[(12, 14), (14, 14), (14, 10), (15, 10)])
            .wire(&[(20, 9), (22, 9)])
            .wire(&[(22, 9), (25, 9)])
            .wire(&[(20, 4), (22, 4)])
            .wire(&[(22, 4), (22, 9)])
            .wire(&[(13, 1), (22, 1), (22, 4)])
    }

    /// With an ideal op amp and k = R4/(R3 + R4), nodal analysis of the netlist gives
    /// ω0² = 1/(R1·R2·C1·C2), pole Q = √(R1·R2·C1·C2)/(R1·(C1 + C2)), and at ω0 the real gain
    /// \[k·(R2·C2 + R1·(C1 + C2)) − R2·C2\]/(R1·(C1 + C2)), which shall be the wanted depth times k.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let pole_q = notch.pole_q();
        let ratio = pole_q * pole_q * (1.0 + c2 / c1);
        let k = ratio / (ratio + 1.0 - notch.depth.gain());
        values[R1] = 1.0 / (omega * pole_q * (c1 + c2));
        values[R2] = pole_q * (c1 + c2) / (omega * c1 * c2);
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        let parallel = 10e3;
        values[R3] = parallel / k;
        values[R4] = parallel / (1.0 - k).max(1e-9);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        let resistors = shelf.resistors.values();
        if let (Some(lowest), Some(highest)) = (resistors.first(), resistors.last()) {
            // R2/R1 = Q²·(C1 + C2)²/(C1·C2) is least, 4Q², for equal capacitors.
            let most = (highest / lowest).sqrt() / 2.0;
            if notch.q > most {
                reasons.push(format!(
                    "Q {} is too high for this circuit and this shelf: it needs R2 at least 4·Q² = {} times R1, and the shelf \
                     goes from {} to {}. A Q of {} or less, or a wider range of resistors, would make it possible.",
                    rounded(notch.q, Unit::One, 3),
                    rounded(4.0 * notch.q * notch.q, Unit::One, 3),
                    rounded(*lowest, Unit::Ohm, 3),
                    rounded(*highest, Unit::Ohm, 3),
                    rounded(most, Unit::One, 3),
                ));
            }
        }
        // Inside the loop stands the band-pass, whose gain at f0 is 2Q²: the op amp needs more than
        // that there, and ten times more before the figures stay where they are put (common practice).
        let needed = 2.0 * notch.q * notch.q * notch.frequency;
        if op_amp.gain_bandwidth < 4.0 * needed {
            reasons.push(format!(
                "The op amp is too slow: the circuit's inner gain at the notch is 2·Q² = {}, so a gain-bandwidth of {} is used \
                 up at {}. An op amp of {} or more, a lower Q or a lower frequency would make it possible.",
                rounded(2.0 * notch.q * notch.q, Unit::One, 3),
                rounded(op_amp.gain_bandwidth, Unit::Hertz, 3),
                rounded(op_amp.gain_bandwidth / (2.0 * notch.q * notch.q), Unit::Hertz, 3),
                rounded(10.0 * needed, Unit::Hertz, 2),
            ));
        }
        reasons
    }
}
