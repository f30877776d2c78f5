//! The multiple-feedback low-pass.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number, root};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct MfbLowPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const R3: usize = 2;
const C1: usize = 3;
const C2: usize = 4;

impl Catalogued for MfbLowPass {
    fn id(&self) -> &'static str {
        "mfb-low-pass"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback low-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "common")
            .resistor("R2", "common", "out")
            .resistor("R3", "common", "minus")
            .capacitor("C1", "common", "0")
            .capacitor("C2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LowPass2(PairAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for MfbLowPass {
    fn summary(&self) -> &'static str {
        "Any gain, and good attenuation far above the corner; inverts, loads its source with R1, and C1 must be at least 4·Q²·(1 + \
         gain) times C2."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (multiple feedback)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (multiple feedback)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (multiple-feedback topology)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (11, 1))
            .symbol("C1", SymbolKind::Capacitor(Vertical), (9, 11))
            .symbol("", SymbolKind::Ground, (9, 15))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (11, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (19, 4))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (18, 8))
            .symbol("", SymbolKind::Ground, (17, 12))
            .symbol("", SymbolKind::Output, (28, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (11, 8)])
            .wire(&[(9, 8), (9, 11)])
            .wire(&[(9, 8), (9, 1), (11, 1)])
            .wire(&[(15, 8), (16, 8)])
            .wire(&[(16, 8), (18, 8)])
            .wire(&[(16, 8), (16, 4), (19, 4)])
            .wire(&[(18, 10), (17, 10), (17, 12)])
            .wire(&[(23, 9), (25, 9)])
            .wire(&[(25, 9), (28, 9)])
            .wire(&[(23, 4), (25, 4)])
            .wire(&[(25, 4), (25, 9)])
            .wire(&[(15, 1), (25, 1), (25, 4)])
    }

    /// With an ideal op amp the gain is A = R2/R1, ω0² = 1/(R2·R3·C1·C2) and
    /// 1/(ω0·Q) = C2·(R2 + R3·(1 + A)): a quadratic equation for R2.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LowPass2(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let product = 1.0 / (omega * omega * values[C1] * values[C2]);
        let half = 0.5 / (omega * pair.q * values[C2]);
        let square = root(half * half - (1.0 + pair.gain) * product, half * half);
        let large = half + square;
        let found = [large, (1.0 + pair.gain) * product / large];
        let set = guidance::closest(found.map(|r2| [r2 / pair.gain, r2, product / r2]));
        [values[R1], values[R2], values[R3]] = set.unwrap_or([f64::NAN; 3]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass2(pair) = ask else {
            return Vec::new();
        };
        let needed = 4.0 * pair.q * pair.q * (1.0 + pair.gain);
        let (q, gain) = (number(pair.q), number(pair.gain));
        let level = pair.gain.max(1.0 / pair.gain);
        [
            guidance::off_the_shelf(shelf, pair.frequency),
            guidance::capacitors_apart(
                shelf,
                needed,
                "C1/C2",
                &format!("A Q of {q} at a gain of {gain}"),
                "A lower Q or less gain",
            ),
            guidance::resistors_apart(
                shelf,
                level,
                "a ratio of R1 and R2",
                &format!("A gain of {gain}"),
                "A gain nearer to 1",
            ),
            guidance::too_slow(op_amp, inner(pair), pair.frequency, "a lower Q, less gain"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass2(pair) = ask else {
            return Vec::new();
        };
        let mut advice = vec![guidance::inverts()];
        advice.extend(guidance::multiple_feedback_op_amp(
            op_amp,
            inner(pair),
            pair.frequency,
        ));
        advice
    }
}

/// Noise gain of the loop at the pole frequency where the capacitors are no further apart than they
/// must: the least that it can be.
fn inner(pair: &PairAsk) -> f64 {
    let (k, q) = (1.0 + pair.gain, pair.q);
    (1.0 + 2.0 * q * q * k).hypot(q * k)
}
