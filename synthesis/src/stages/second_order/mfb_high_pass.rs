//! The multiple-feedback high-pass.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::ask::passband::POLE_FREQUENCIES;
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct MfbHighPass;

/// Positions in the netlist.
const C1: usize = 0;
const C2: usize = 1;
const C3: usize = 2;
const R1: usize = 3;
const R2: usize = 4;

impl Catalogued for MfbHighPass {
    fn id(&self) -> &'static str {
        "mfb-high-pass"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback high-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .capacitor("C1", "in", "common")
            .capacitor("C2", "common", "out")
            .capacitor("C3", "common", "minus")
            .resistor("R1", "common", "0")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out")
    }

    fn default_ask(&self) -> Ask {
        Ask::HighPass2(PairAsk {
            frequency: 1000.0,
            ..PairAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1, C3], &[C2]],
            solved: &[&[R1], &[R2]],
            ..Grouping::default()
        }
    }
}

impl Stage for MfbHighPass {
    fn summary(&self) -> &'static str {
        "Gains below and above 1 with two resistors; inverts, the gain is a ratio of capacitors, and its source drives C1 into a low impedance."
    }

    fn sign(&self) -> i8 {
        -1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (multiple feedback)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (multiple-feedback topology)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (3, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (11, 1))
            .symbol("R1", SymbolKind::Resistor(Vertical), (9, 11))
            .symbol("", SymbolKind::Ground, (9, 15))
            .symbol("C3", SymbolKind::Capacitor(Horizontal), (11, 8))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (19, 4))
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

    /// With an ideal op amp the gain is C1/C2, ω0² = 1/(R1·R2·C2·C3) and
    /// 1/(ω0·Q) = R1·(C1 + C2 + C3).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::HighPass2(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let sum = values[C1] + values[C2] + values[C3];
        values[R1] = 1.0 / (omega * pair.q * sum);
        values[R2] = pair.q * sum / (omega * values[C2] * values[C3]);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass2(pair) = ask else {
            return Vec::new();
        };
        let (f, q, gain) = (pair.frequency, pair.q, pair.gain);
        let ratio = nearest_ratio(&shelf.capacitors.values(), gain);
        let gain_reason = ((ratio / gain - 1.0).abs() > pair.gain_limit).then(|| {
            format!(
                "The gain of this circuit is the ratio C1/C2 of two capacitors, and of this shelf {} comes nearest to {}. \
                 Another gain, a wider gain limit or a finer series of capacitors would make it possible.",
                number(ratio),
                number(gain),
            )
        });
        [
            gain_reason,
            guidance::off_the_shelf(shelf, f),
            guidance::resistors_apart(
                shelf,
                q * q * (1.0 + 2.0 * gain).powi(2) / gain,
                "R2/R1",
                &format!("A Q of {} at a gain of {}", number(q), number(gain)),
                "A lower Q",
            ),
            guidance::too_slow(op_amp, inner(pair), f, "a lower Q, less gain"),
            guidance::passband_too_slow(op_amp, 1.0 + gain, POLE_FREQUENCIES * f, pair.gain_limit),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::HighPass2(pair) = ask else {
            return Vec::new();
        };
        let mut advice = vec![guidance::inverts(), guidance::capacitive_input("C1")];
        advice.extend(guidance::multiple_feedback_op_amp(
            op_amp,
            inner(pair),
            pair.frequency,
        ));
        advice
    }
}

/// The ratio of two of these values that comes nearest to `wanted`.
fn nearest_ratio(values: &[f64], wanted: f64) -> f64 {
    let ratios = values
        .iter()
        .flat_map(|a| values.iter().map(move |b| a / b));
    let away = |ratio: &f64| (ratio / wanted).ln().abs();
    let nearest = ratios.min_by(|a, b| away(a).total_cmp(&away(b)));
    nearest.unwrap_or(1.0)
}

/// Noise gain of the loop at the pole frequency for C3 = C1.
fn inner(pair: &PairAsk) -> f64 {
    let (a, q) = (pair.gain, pair.q);
    (1.0 + q * q * (1.0 + 2.0 * a)).hypot(q * a)
}
