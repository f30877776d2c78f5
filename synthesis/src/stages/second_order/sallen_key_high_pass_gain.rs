//! The Sallen–Key high-pass with a gain set by two resistors.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::POLE_FREQUENCIES;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct SallenKeyHighPassGain;

/// Positions in the netlist.
const C1: usize = 0;
const C2: usize = 1;
const R1: usize = 2;
const R2: usize = 3;
const R3: usize = 4;
const R4: usize = 5;

impl Catalogued for SallenKeyHighPassGain {
    fn id(&self) -> &'static str {
        "sallen-key-high-pass-gain"
    }

    fn title(&self) -> &'static str {
        "Sallen–Key high-pass with gain"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "mid")
            .capacitor("C2", "mid", "plus")
            .resistor("R1", "mid", "out")
            .resistor("R2", "plus", "0")
            .resistor("R3", "minus", "0")
            .resistor("R4", "minus", "out")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass2(PairAsk {
            frequency: 1000.0,
            gain: 2.0,
            ..PairAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2]],
            dividers: &[(R4, R3)],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyHighPassGain {
    fn summary(&self) -> &'static str {
        "Filters and amplifies in one stage, with resistors close together; the Q depends on the gain resistors R3, R4."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Sallen and Key, “A Practical Method of Designing RC Active Filters”, IRE Trans. Circuit Theory, 1955",
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (KRC filters)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (active filter design techniques)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (11, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (18, 3))
            .symbol("R2", SymbolKind::Resistor(Vertical), (17, 11))
            .symbol("", SymbolKind::Ground, (17, 15))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (25, 10))
            .symbol("R4", SymbolKind::Resistor(Horizontal), (26, 14))
            .symbol("R3", SymbolKind::Resistor(Vertical), (24, 16))
            .symbol("", SymbolKind::Ground, (24, 20))
            .symbol("", SymbolKind::Output, (35, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (11, 8)])
            .wire(&[(9, 8), (9, 3), (18, 3)])
            .wire(&[(15, 8), (17, 8)])
            .wire(&[(17, 8), (25, 8)])
            .wire(&[(17, 8), (17, 11)])
            .wire(&[(25, 10), (24, 10), (24, 14)])
            .wire(&[(24, 14), (26, 14)])
            .wire(&[(24, 14), (24, 16)])
            .wire(&[(30, 14), (32, 14), (32, 9)])
            .wire(&[(30, 9), (32, 9)])
            .wire(&[(32, 9), (35, 9)])
            .wire(&[(22, 3), (32, 3), (32, 9)])
    }

    /// With an ideal op amp and K = 1 + R4/R3, ω0² = 1/(R1·R2·C1·C2) and
    /// 1/(ω0·Q) = R1·(C1 + C2) + R2·C2·(1 − K): one positive R1 for any capacitors.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::HighPass2(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let product = 1.0 / (omega * omega * c1 * c2);
        let b = 1.0 / (omega * pair.q);
        let square = b * b + 4.0 * (c1 + c2) * (pair.gain - 1.0) * product * c2;
        values[R1] = (b + square.sqrt()) / (2.0 * (c1 + c2));
        values[R2] = product / values[R1];
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        values[R4] = 10e3 * pair.gain;
        values[R3] = 10e3 * pair.gain / (pair.gain - 1.0).max(1e-9);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass2(pair) = ask else {
            return Vec::new();
        };
        let instead = "The unity-gain circuit for 1, multiple feedback below,";
        let (f, gain) = (pair.frequency, pair.gain.max(1.0));
        [
            guidance::amplifier(pair.gain, shelf, instead),
            guidance::off_the_shelf(shelf, f),
            guidance::too_slow(op_amp, inner(pair), f, "a lower Q, less gain"),
            guidance::passband_too_slow(op_amp, gain, POLE_FREQUENCIES * f, pair.gain_limit),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass2(pair) = ask else {
            return Vec::new();
        };
        let mut advice = Vec::new();
        advice.extend(guidance::sallen_key_op_amp(
            op_amp,
            pair.frequency,
            pair.q,
            pair.gain,
        ));
        let sensitivity = pair.gain * pair.q;
        if sensitivity > 4.0 {
            advice.push(format!(
                "One per cent of the gain 1 + R4/R3 moves the Q by some {} per cent: multiple feedback or the unity-gain \
                 circuit hold a high Q better.",
                number(sensitivity),
            ));
        }
        if op_amp.gain_bandwidth.is_finite() {
            advice.push(format!(
                "The passband ends at the op amp's gain-bandwidth over the gain, {}: above, less and less is let through.",
                guidance::hertz(op_amp.gain_bandwidth / pair.gain),
            ));
        }
        advice
    }
}

/// Noise gain of the loop at the pole frequency, K·(1 + K·Q·ω0·R2·C2), with equal capacitors.
fn inner(pair: &PairAsk) -> f64 {
    let (k, q) = (pair.gain.max(1.0), pair.q);
    let r1 = (1.0 / q + (1.0 / (q * q) + 8.0 * (k - 1.0)).sqrt()) / 4.0;
    k * (1.0 + k * q / r1)
}
