//! The twin-T notch bootstrapped by followers: part of the output lifts its foot.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::guidance;

use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, NotchAsk, Stage, SymbolKind};

pub struct TwinT;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C3: usize = 2;
const C4: usize = 3;
const C1: usize = 4;
const C2: usize = 5;
const R3: usize = 6;
const R4: usize = 7;
const R5: usize = 9;
const R6: usize = 10;

impl Catalogued for TwinT {
    fn id(&self) -> &'static str {
        "twin-t-notch"
    }

    fn title(&self) -> &'static str {
        "Twin-T, bootstrapped"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "b")
            .resistor("R2", "b", "y")
            .capacitor("C3", "b", "foot")
            .capacitor("C4", "b", "foot")
            .capacitor("C1", "in", "c")
            .capacitor("C2", "c", "y")
            .resistor("R3", "foot", "c")
            .resistor("R4", "foot", "c")
            .op_amp("U1", "y", "out", "out")
            .resistor("R5", "out", "k")
            .resistor("R6", "k", "0")
            .op_amp("U2", "k", "foot", "foot")
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1, C2, C3, C4]],
            solved: &[&[R1, R2, R3, R4]],
            dividers: &[(R5, R6)],
            ..Grouping::default()
        }
    }
}

impl Stage for TwinT {
    fn summary(&self) -> &'static str {
        "Two followers; f0 and Q are set independently, but the depth depends on eight matched parts."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "“Op Amps for Everyone”, ch. 16 (active twin-T)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (twin-T with bootstrapped foot)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 10))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 3))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (15, 3))
            .symbol("C3", SymbolKind::Capacitor(Vertical), (8, 4))
            .symbol("C4", SymbolKind::Capacitor(Vertical), (14, 4))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 17))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (15, 17))
            .symbol("R3", SymbolKind::Resistor(Vertical), (8, 12))
            .symbol("R4", SymbolKind::Resistor(Vertical), (14, 12))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (23, 5))
            .symbol("R5", SymbolKind::Resistor(Vertical), (31, 6))
            .symbol("R6", SymbolKind::Resistor(Vertical), (31, 12))
            .symbol("", SymbolKind::Ground, (31, 16))
            .symbol("U2", SymbolKind::OpAmp { plus_above: true }, (23, 15))
            .symbol("", SymbolKind::Output, (35, 4))
            .wire(&[(0, 10), (2, 10)])
            .wire(&[(2, 10), (2, 3), (3, 3)])
            .wire(&[(2, 10), (2, 17), (3, 17)])
            .wire(&[(7, 3), (8, 3)])
            .wire(&[(8, 3), (14, 3)])
            .wire(&[(14, 3), (15, 3)])
            .wire(&[(8, 3), (8, 4)])
            .wire(&[(14, 3), (14, 4)])
            .wire(&[(8, 8), (8, 9)])
            .wire(&[(14, 8), (14, 9)])
            .wire(&[(8, 9), (14, 9)])
            .wire(&[(8, 9), (8, 12)])
            .wire(&[(14, 9), (14, 12)])
            .wire(&[(8, 16), (8, 17)])
            .wire(&[(14, 16), (14, 17)])
            .wire(&[(7, 17), (8, 17)])
            .wire(&[(8, 17), (14, 17)])
            .wire(&[(14, 17), (15, 17)])
            .wire(&[(19, 3), (20, 3)])
            .wire(&[(19, 17), (20, 17), (20, 3)])
            .wire(&[(20, 3), (23, 3)])
            .wire(&[(28, 4), (29, 4)])
            .wire(&[(29, 4), (29, 7), (22, 7), (22, 5), (23, 5)])
            .wire(&[(29, 4), (31, 4)])
            .wire(&[(31, 4), (35, 4)])
            .wire(&[(31, 4), (31, 6)])
            .wire(&[(31, 10), (31, 11)])
            .wire(&[(31, 11), (31, 12)])
            .wire(&[(31, 11), (22, 11), (22, 13), (23, 13)])
            .wire(&[(28, 14), (29, 14), (29, 18), (22, 18)])
            .wire(&[(22, 18), (22, 15), (23, 15)])
            .wire(&[(14, 9), (21, 9), (21, 18), (22, 18)])
    }

    /// Two equal parts side by side make the halves of the T, so that all four match. f0 = 1/(2πRC), and
    /// Q = 1/(4·(1 − k)) for a foot that follows k of the output.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::Notch(notch) = ask else { return };
        let omega = std::f64::consts::TAU * notch.frequency;
        for part in [R1, R2, R3, R4] {
            values[part] = 1.0 / (omega * values[C1]);
        }
        let k = 1.0 - 1.0 / (4.0 * notch.pole_q());
        let parallel = 5e3;
        values[R5] = parallel / k;
        values[R6] = parallel / (1.0 - k);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        if notch.q <= 0.26 {
            reasons.push("Q is too low for this circuit: a twin-T has Q 0.25 by itself, and bootstrapping only raises it.".into());
        }
        if notch.depth.gain() > 0.0 {
            reasons.push("A depth that is not full is out of this circuit's reach: its null is complete by symmetry. Require a full \
                          null, or use a circuit whose depth a resistor sets.".into());
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

    fn advice(&self, ask: &Ask, _: &OpAmp) -> Vec<String> {
        let Ask::Notch(notch) = ask else {
            return Vec::new();
        };
        vec![format!(
            "A matched notch drifts: at Q {} one part of the eight that is off by 1 % leaves {} of the passband at the null, {} dB. Take them \
             from one strip or network, and expect the depth, not the frequency, to go first.",
            rounded(notch.q, Unit::One, 3),
            rounded(0.01 * notch.q / 4.0, Unit::Percent, 2),
            (-20.0 * (0.01 * notch.q / 4.0).log10()).round(),
        )]
    }
}
