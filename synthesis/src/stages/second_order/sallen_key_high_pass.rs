//! The Sallen–Key high-pass with a follower.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::POLE_FREQUENCIES;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct SallenKeyHighPass;

/// Positions in the netlist.
const C1: usize = 0;
const C2: usize = 1;
const R1: usize = 2;
const R2: usize = 3;

impl Catalogued for SallenKeyHighPass {
    fn id(&self) -> &'static str {
        "sallen-key-high-pass"
    }

    fn title(&self) -> &'static str {
        "Sallen–Key high-pass, gain 1"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "mid")
            .capacitor("C2", "mid", "plus")
            .resistor("R1", "mid", "out")
            .resistor("R2", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass2(PairAsk {
            frequency: 1000.0,
            ..PairAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyHighPass {
    fn summary(&self) -> &'static str {
        "Four parts, equal capacitors and a gain of exactly 1; R2 must be at least 4·Q² times R1, and the op amp ends the passband."
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
            .symbol("R1", SymbolKind::Resistor(Horizontal), (15, 3))
            .symbol("R2", SymbolKind::Resistor(Vertical), (17, 13))
            .symbol("", SymbolKind::Ground, (17, 17))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (20, 10))
            .symbol("", SymbolKind::Output, (30, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (11, 8)])
            .wire(&[(9, 8), (9, 3), (15, 3)])
            .wire(&[(15, 8), (17, 8)])
            .wire(&[(17, 8), (20, 8)])
            .wire(&[(17, 8), (17, 13)])
            .wire(&[(20, 10), (19, 10), (19, 12), (27, 12), (27, 9)])
            .wire(&[(25, 9), (27, 9)])
            .wire(&[(27, 9), (30, 9)])
            .wire(&[(19, 3), (27, 3), (27, 9)])
    }

    /// With an ideal op amp ω0² = 1/(R1·R2·C1·C2) and 1/(ω0·Q) = R1·(C1 + C2).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::HighPass2(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        values[R1] = 1.0 / (omega * pair.q * (c1 + c2));
        values[R2] = pair.q * (c1 + c2) / (omega * c1 * c2);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass2(pair) = ask else {
            return Vec::new();
        };
        let instead = "The Sallen–Key circuit with set gain or the multiple-feedback high-pass";
        let (f, q) = (pair.frequency, pair.q);
        [
            guidance::only_unity(pair.gain, pair.gain_limit, instead),
            guidance::off_the_shelf(shelf, f),
            guidance::resistors_apart(
                shelf,
                4.0 * q * q,
                "R2/R1",
                &format!("A Q of {}", number(q)),
                "A lower Q",
            ),
            guidance::too_slow(op_amp, 1.0 + 2.0 * q * q, f, "a lower Q"),
            guidance::passband_too_slow(op_amp, 1.0, POLE_FREQUENCIES * f, pair.gain_limit),
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
            1.0,
        ));
        if op_amp.gain_bandwidth.is_finite() {
            advice.push(format!(
                "The passband ends at the op amp's gain-bandwidth, {}: above, nothing is let through.",
                guidance::hertz(op_amp.gain_bandwidth),
            ));
        }
        advice
    }
}
