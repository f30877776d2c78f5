//! The third-order Sallen–Key low-pass: R1 and C1 ahead of a unity-gain pair, loaded by it.

use std::f64::consts::TAU;

use super::{capacitors_too_close, ratios, span_needed, zeros_between};
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, SymbolKind, TripleAsk};

pub struct SallenKeyLowPass3;

/// Positions in the netlist.
const R1: usize = 0;
const C1: usize = 1;
const R2: usize = 2;
const C2: usize = 3;
const R3: usize = 4;
const C3: usize = 5;

impl Catalogued for SallenKeyLowPass3 {
    fn id(&self) -> &'static str {
        "sallen-key-low-pass-3"
    }

    fn title(&self) -> &'static str {
        "Third-order Sallen–Key low-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "first")
            .capacitor("C1", "first", "0")
            .resistor("R2", "first", "second")
            .capacitor("C2", "second", "out")
            .resistor("R3", "second", "plus")
            .capacitor("C3", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::LowPass3(TripleAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2], &[C3]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyLowPass3 {
    fn summary(&self) -> &'static str {
        "Three poles with one op amp and a gain of exactly 1; all parts act on all poles, so tolerances add up."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Williams and Taylor, “Electronic Filter Design Handbook”, ch. 3 (unity-gain three-pole section)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (Sallen–Key)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("C1", SymbolKind::Capacitor(Vertical), (9, 13))
            .symbol("", SymbolKind::Ground, (9, 17))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (11, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (23, 3))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (19, 8))
            .symbol("C3", SymbolKind::Capacitor(Vertical), (25, 13))
            .symbol("", SymbolKind::Ground, (25, 17))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (28, 10))
            .symbol("", SymbolKind::Output, (38, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (11, 8)])
            .wire(&[(9, 8), (9, 13)])
            .wire(&[(15, 8), (17, 8)])
            .wire(&[(17, 8), (19, 8)])
            .wire(&[(17, 8), (17, 3), (23, 3)])
            .wire(&[(23, 8), (25, 8)])
            .wire(&[(25, 8), (28, 8)])
            .wire(&[(25, 8), (25, 13)])
            .wire(&[(28, 10), (27, 10), (27, 12), (35, 12), (35, 9)])
            .wire(&[(33, 9), (35, 9)])
            .wire(&[(35, 9), (38, 9)])
            .wire(&[(27, 3), (35, 3), (35, 9)])
    }

    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::LowPass3(triple) = ask else { return };
        let found = resistors(triple, [values[C1], values[C2], values[C3]]);
        [values[R1], values[R2], values[R3]] = found.unwrap_or([f64::NAN; 3]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass3(triple) = ask else {
            return Vec::new();
        };
        let (f, q) = (triple.frequency, triple.q);
        let instead = "A second-order stage with gain and a first-order stage";
        let span = guidance::span(&shelf.capacitors);
        let works = |span: f64| {
            let found = |ratio: f64| resistors(triple, [ratio * 1e-9, span * 1e-9, 1e-9]);
            ratios(span).any(|ratio| found(ratio).is_some())
        };
        let too_close =
            (!works(span)).then(|| capacitors_too_close(q, span, span_needed(span, works)));
        [
            guidance::only_unity(triple.gain, triple.gain_limit, instead),
            guidance::off_the_shelf(shelf, f),
            too_close,
            guidance::too_slow(op_amp, 1.0 + 2.0 * q * q, f, "a lower Q"),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::LowPass3(triple) = ask else {
            return Vec::new();
        };
        let f = triple.frequency.max(triple.corner);
        let mut advice: Vec<String> = guidance::sallen_key_op_amp(op_amp, f, triple.q, 1.0)
            .into_iter()
            .collect();
        if triple.q > 2.0 {
            advice.push(
                "Above a Q of 2 or so three poles in one stage vary more than a second-order and a first-order stage \
                 in a row (common practice)."
                    .to_owned(),
            );
        }
        advice
    }
}

/// With an ideal op amp the denominator is 1 + b1·s + b2·s² + b3·s³ with
/// b1 = C1·R1 + C3·(R1 + R2 + R3), b2 = C1·C3·R1·(R2 + R3) + C2·C3·R3·(R1 + R2) and
/// b3 = C1·C2·C3·R1·R2·R3. For an R1, b1 gives R2 + R3 and b2 then R3: what is left of b3 is one
/// equation for R1. Of several solutions the one whose resistors lie closest together.
fn resistors(ask: &TripleAsk, [c1, c2, c3]: [f64; 3]) -> Option<[f64; 3]> {
    // In units of the pair's frequency and of C3.
    let w = ask.corner / ask.frequency;
    let (b1, b2, b3) = (1.0 / w + 1.0 / ask.q, 1.0 + 1.0 / (w * ask.q), 1.0 / w);
    let (a, b) = (c1 / c3, c2 / c3);
    let rest = |r1: f64| {
        let sum = b1 - (1.0 + a) * r1;
        let r3 = (b2 - b3 / (a * r1) - a * r1 * sum) / (b * r1);
        (sum - r3, r3)
    };
    let off = |r1: f64| {
        let (r2, r3) = rest(r1);
        r1 * r2 * r3 - b3 / (a * b)
    };
    let ohm = 1.0 / (TAU * ask.frequency * c3);
    let zeros = zeros_between(b1 / (1.0 + a), off);
    guidance::closest(zeros.into_iter().map(|r1| {
        let (r2, r3) = rest(r1);
        [r1, r2, r3].map(|r| r * ohm)
    }))
}
