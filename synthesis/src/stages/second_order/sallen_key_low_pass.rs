//! The Sallen–Key low-pass with a follower.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number, root};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct SallenKeyLowPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const C2: usize = 3;

impl Catalogued for SallenKeyLowPass {
    fn id(&self) -> &'static str {
        "sallen-key-low-pass"
    }

    fn title(&self) -> &'static str {
        "Sallen–Key low-pass, gain 1"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "mid")
            .resistor("R2", "mid", "plus")
            .capacitor("C1", "mid", "out")
            .capacitor("C2", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LowPass2(PairAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyLowPass {
    fn summary(&self) -> &'static str {
        "Four parts and a gain of exactly 1; C1 must be at least 4·Q² times C2, and far above the corner some signal leaks through C1."
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
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (11, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (15, 3))
            .symbol("C2", SymbolKind::Capacitor(Vertical), (17, 13))
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

    /// With an ideal op amp ω0² = 1/(R1·R2·C1·C2) and 1/(ω0·Q) = C2·(R1 + R2): sum and product of the
    /// two resistors. R1 is the larger one, which leaves less to leak through C1.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LowPass2(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let half = 0.5 / (omega * pair.q * values[C2]);
        let product = 1.0 / (omega * omega * values[C1] * values[C2]);
        values[R1] = half + root(half * half - product, product);
        values[R2] = product / values[R1];
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass2(pair) = ask else {
            return Vec::new();
        };
        let instead = "The Sallen–Key circuit with set gain or the multiple-feedback low-pass";
        [
            guidance::only_unity(pair.gain, pair.gain_limit, instead),
            guidance::off_the_shelf(shelf, pair.frequency),
            guidance::capacitors_apart(
                shelf,
                4.0 * pair.q * pair.q,
                "C1/C2",
                &format!("A Q of {}", number(pair.q)),
                "A lower Q",
            ),
            guidance::too_slow(op_amp, inner(pair), pair.frequency, "a lower Q"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass2(pair) = ask else {
            return Vec::new();
        };
        let mut advice = Vec::new();
        advice.extend(guidance::sallen_key_op_amp(
            op_amp,
            pair.frequency,
            pair.q,
            1.0,
        ));
        if pair.q > 3.0 {
            advice.push(format!(
                "For a Q of {} the capacitors stand {} times apart: choose them first, and give C1 the better tolerance.",
                number(pair.q),
                number(4.0 * pair.q * pair.q),
            ));
        }
        advice
    }
}

/// Noise gain of the loop at the pole frequency where the capacitors are no further apart than they
/// must: the least that it can be.
fn inner(pair: &PairAsk) -> f64 {
    1.0 + 2.0 * pair.q * pair.q
}
