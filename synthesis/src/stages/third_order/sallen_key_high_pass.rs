//! The third-order Sallen–Key high-pass: C1 and R1 ahead of a unity-gain pair, loaded by it.

use std::f64::consts::TAU;

use super::{capacitors_too_close, ratios, span_needed, zeros_between};
use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::POLE_FREQUENCIES;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance;
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, SymbolKind, TripleAsk};

pub struct SallenKeyHighPass3;

/// Positions in the netlist.
const C1: usize = 0;
const R1: usize = 1;
const C2: usize = 2;
const R2: usize = 3;
const C3: usize = 4;
const R3: usize = 5;

impl Catalogued for SallenKeyHighPass3 {
    fn id(&self) -> &'static str {
        "sallen-key-high-pass-3"
    }

    fn title(&self) -> &'static str {
        "Third-order Sallen–Key high-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "first")
            .resistor("R1", "first", "0")
            .capacitor("C2", "first", "second")
            .resistor("R2", "second", "out")
            .capacitor("C3", "second", "plus")
            .resistor("R3", "plus", "0")
            .op_amp("U1", "plus", "out", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass3(TripleAsk {
            frequency: 1000.0,
            corner: 1000.0,
            ..TripleAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2], &[C3]],
            solved: &[&[R1], &[R2], &[R3]],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyHighPass3 {
    fn summary(&self) -> &'static str {
        "Three poles with one op amp, often with equal capacitors; all parts act on all poles, and the op amp ends the passband."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Williams and Taylor, “Electronic Filter Design Handbook”, ch. 4 (unity-gain three-pole high-pass)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (Sallen–Key)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 8))
            .symbol("R1", SymbolKind::Resistor(Vertical), (9, 13))
            .symbol("", SymbolKind::Ground, (9, 17))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (11, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (23, 3))
            .symbol("C3", SymbolKind::Capacitor(Horizontal), (19, 8))
            .symbol("R3", SymbolKind::Resistor(Vertical), (25, 13))
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
        let Ask::HighPass3(triple) = ask else { return };
        let found = resistors(triple, [values[C1], values[C2], values[C3]]);
        [values[R1], values[R2], values[R3]] = found.unwrap_or([f64::NAN; 3]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass3(triple) = ask else {
            return Vec::new();
        };
        let (f, q) = (triple.frequency, triple.q);
        let instead = "A second-order stage with gain and a first-order stage";
        let span = guidance::span(&shelf.capacitors);
        let works = |span: f64| {
            let found = |ratio: f64| resistors(triple, [span * 1e-9, 1e-9, ratio * 1e-9]);
            ratios(span).any(|ratio| found(ratio).is_some())
        };
        let too_close =
            (!works(span)).then(|| capacitors_too_close(q, span, span_needed(span, works)));
        [
            guidance::only_unity(triple.gain, triple.gain_limit, instead),
            guidance::off_the_shelf(shelf, f),
            too_close,
            guidance::resistors_apart(
                shelf,
                4.0 * q * q,
                "R3/R2",
                &format!("A Q of {}", guidance::number(q)),
                "A lower Q",
            ),
            guidance::too_slow(op_amp, 1.0 + 2.0 * q * q, f, "a lower Q"),
            guidance::passband_too_slow(op_amp, 1.0, POLE_FREQUENCIES * f, triple.gain_limit),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass3(triple) = ask else {
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
        if op_amp.gain_bandwidth.is_finite() {
            advice.push(format!(
                "The passband ends at the op amp's gain-bandwidth, {}: above, nothing is let through.",
                guidance::hertz(op_amp.gain_bandwidth),
            ));
        }
        advice
    }
}

/// With an ideal op amp, G = 1/R and D = 1/C, the denominator is 1 + a1/s + a2/s² + a3/s³ with
/// a1 = G1·D1 + G3·(D1 + D2 + D3), a2 = G1·G3·D1·(D2 + D3) + G2·G3·D3·(D1 + D2) and
/// a3 = G1·G2·G3·D1·D2·D3. With y = G1·D1, a1 gives G3 and a3 then G2: a2 is left, a cubic equation
/// for y. Of several solutions the one whose resistors lie closest together.
fn resistors(ask: &TripleAsk, [c1, c2, c3]: [f64; 3]) -> Option<[f64; 3]> {
    // In units of the pair's frequency and of C1.
    let w = ask.corner / ask.frequency;
    let (a1, a2, a3) = (w + 1.0 / ask.q, 1.0 + w / ask.q, w);
    let (d2, d3) = (c1 / c2, c1 / c3);
    let sum = 1.0 + d2 + d3;
    let off = |y: f64| y * y * (a1 - y) * (d2 + d3) / sum + a3 * (1.0 + 1.0 / d2) - a2 * y;
    let ohm = 1.0 / (TAU * ask.frequency * c1);
    guidance::closest(zeros_between(a1, off).into_iter().map(|y| {
        let (g1, g3) = (y, (a1 - y) / sum);
        let g2 = a3 / (g1 * g3 * d2 * d3);
        [g1, g2, g3].map(|g| ohm / g)
    }))
}
