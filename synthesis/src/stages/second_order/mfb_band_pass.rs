//! The multiple-feedback band-pass with a divider at its input.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct MfbBandPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const C2: usize = 3;
const R3: usize = 4;

impl Catalogued for MfbBandPass {
    fn id(&self) -> &'static str {
        "mfb-band-pass"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback band-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "common")
            .resistor("R2", "common", "0")
            .capacitor("C1", "common", "out")
            .capacitor("C2", "common", "minus")
            .resistor("R3", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::BandPass(PairAsk {
            frequency: 1000.0,
            q: 2.0,
            ..PairAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for MfbBandPass {
    fn summary(&self) -> &'static str {
        "Equal capacitors and a Q that parts hold well; inverts, and the op amp needs far more than 2·Q² times the centre frequency."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (multiple feedback)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (multiple feedback)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (multiple-feedback band-pass)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (11, 1))
            .symbol("R2", SymbolKind::Resistor(Vertical), (9, 11))
            .symbol("", SymbolKind::Ground, (9, 15))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (11, 8))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (19, 4))
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

    /// With an ideal op amp and Ra = R1 ∥ R2, ω0² = 1/(Ra·R3·C1·C2), 1/(ω0·Q) = Ra·(C1 + C2) and the
    /// gain at the centre is R3·C2/(R1·(C1 + C2)).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::BandPass(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        values[R1] = pair.q / (omega * c1 * pair.gain);
        values[R2] = 1.0 / (omega * (pair.q * (c1 + c2) - c1 * pair.gain / pair.q));
        values[R3] = pair.q * (c1 + c2) / (omega * c1 * c2);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::BandPass(pair) = ask else {
            return Vec::new();
        };
        let (f, q) = (pair.frequency, pair.q);
        let why = format!("A gain of {} at a Q of {}", number(pair.gain), number(q));
        [
            guidance::off_the_shelf(shelf, f),
            // The shelf's resistors let R2 take all but a hair of the rest.
            guidance::capacitors_apart(
                shelf,
                1.02 * pair.gain / (q * q) - 1.0,
                "C2/C1",
                &why,
                "Less gain or a higher Q",
            ),
            guidance::resistors_apart(
                shelf,
                4.0 * q * q,
                "R3/(R1 ∥ R2)",
                &format!("A Q of {}", number(q)),
                "A lower Q",
            ),
            guidance::too_slow(op_amp, inner(pair), f, "a lower Q"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::BandPass(pair) = ask else {
            return Vec::new();
        };
        let mut advice = vec![guidance::inverts()];
        advice.extend(guidance::multiple_feedback_op_amp(
            op_amp,
            inner(pair),
            pair.frequency,
        ));
        let most = 2.0 * pair.q * pair.q;
        if pair.gain > 0.9 * most {
            advice.push(format!(
                "With equal capacitors the gain is at most 2·Q² = {}: for more, C2 is made larger than C1.",
                number(most),
            ));
        }
        advice
    }
}

/// Noise gain of the loop at the centre: 1 + Q²·(1 + C2/C1), with equal capacitors or as much more of
/// C2 as the gain takes.
fn inner(pair: &PairAsk) -> f64 {
    1.0 + (2.0 * pair.q * pair.q).max(pair.gain)
}
