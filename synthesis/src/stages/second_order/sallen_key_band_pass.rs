//! The Sallen–Key band-pass with a divider at its input.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::drawing::Orientation::{Horizontal, Vertical};
use crate::stages::guidance::{self, number};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, PairAsk, Stage, SymbolKind};

pub struct SallenKeyBandPass;

/// Positions in the netlist.
const R1: usize = 0;
const R2: usize = 1;
const C1: usize = 2;
const R3: usize = 3;
const C2: usize = 4;
const R4: usize = 5;
const R5: usize = 6;
const R6: usize = 7;

impl Catalogued for SallenKeyBandPass {
    fn id(&self) -> &'static str {
        "sallen-key-band-pass"
    }

    fn title(&self) -> &'static str {
        "Sallen–Key band-pass"
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "mid")
            .resistor("R2", "mid", "0")
            .capacitor("C1", "mid", "0")
            .resistor("R3", "mid", "out")
            .capacitor("C2", "mid", "plus")
            .resistor("R4", "plus", "0")
            .resistor("R5", "minus", "out")
            .resistor("R6", "minus", "0")
            .op_amp("U1", "plus", "minus", "out")
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
            chosen: &[&[C1, C2]],
            solved: &[&[R1], &[R2], &[R3, R4]],
            dividers: &[(R5, R6)],
            ..Grouping::default()
        }
    }
}

impl Stage for SallenKeyBandPass {
    fn summary(&self) -> &'static str {
        "Does not invert, and R5, R6 set the Q without moving the centre; they also make the Q run away when it is high."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (KRC band-pass)",
            "Mancini (ed.), “Op Amps for Everyone”, ch. 16 (Sallen–Key band-pass)",
        ]
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("R2", SymbolKind::Resistor(Vertical), (9, 11))
            .symbol("", SymbolKind::Ground, (9, 15))
            .symbol("C1", SymbolKind::Capacitor(Vertical), (15, 11))
            .symbol("", SymbolKind::Ground, (15, 15))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (24, 3))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (17, 8))
            .symbol("R4", SymbolKind::Resistor(Vertical), (23, 11))
            .symbol("", SymbolKind::Ground, (23, 15))
            .symbol("U1", SymbolKind::OpAmp { plus_above: true }, (31, 10))
            .symbol("R5", SymbolKind::Resistor(Horizontal), (32, 14))
            .symbol("R6", SymbolKind::Resistor(Vertical), (30, 16))
            .symbol("", SymbolKind::Ground, (30, 20))
            .symbol("", SymbolKind::Output, (41, 9))
            .wire(&[(0, 8), (3, 8)])
            .wire(&[(7, 8), (9, 8)])
            .wire(&[(9, 8), (9, 11)])
            .wire(&[(9, 8), (15, 8)])
            .wire(&[(15, 8), (15, 11)])
            .wire(&[(15, 8), (17, 8)])
            .wire(&[(15, 8), (15, 3), (24, 3)])
            .wire(&[(21, 8), (23, 8)])
            .wire(&[(23, 8), (23, 11)])
            .wire(&[(23, 8), (31, 8)])
            .wire(&[(31, 10), (30, 10), (30, 14)])
            .wire(&[(30, 14), (32, 14)])
            .wire(&[(30, 14), (30, 16)])
            .wire(&[(36, 14), (38, 14), (38, 9)])
            .wire(&[(36, 9), (38, 9)])
            .wire(&[(38, 9), (41, 9)])
            .wire(&[(28, 3), (38, 3), (38, 9)])
    }

    /// With an ideal op amp, K = 1 + R5/R6, Ra = R1 ∥ R2, R = R3 = R4 and m = R/Ra, nodal analysis gives
    /// ω0² = (1 + m)/(R²·C1·C2), ω0·R·C1/Q = (C1 + C2)/C2 + 1 + m − K, and the gain at the centre
    /// (R2/(R1 + R2))·m·K·Q/(ω0·R·C1). m is 1, the usual choice, or as much more as the gain takes.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::BandPass(pair) = ask else { return };
        let omega = TAU * pair.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let mut found = [f64::NAN; 4];
        for m in TRIED {
            let r = (1.0 + m).sqrt() / (omega * (c1 * c2).sqrt());
            let turn = omega * r * c1;
            let k = (c1 + c2) / c2 + 1.0 + m - turn / pair.q;
            let fraction = pair.gain * turn / (m * k * pair.q);
            if k > 1.02 && fraction > 0.0 && fraction < MOST {
                found = [r / m / fraction, r / m / (1.0 - fraction), r, k];
                break;
            }
        }
        let [r1, r2, r, k] = found;
        (values[R1], values[R2]) = (r1, r2);
        (values[R3], values[R4]) = (r, r);
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        values[R5] = 10e3 * k;
        values[R6] = 10e3 * k / (k - 1.0);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::BandPass(pair) = ask else {
            return Vec::new();
        };
        let (f, q) = (pair.frequency, pair.q);
        let mut reasons: Vec<String> = guidance::off_the_shelf(shelf, f).into_iter().collect();
        let most = TRIED.map(|m| MOST * highest(q, m)).into_iter();
        let most = most.fold(f64::NEG_INFINITY, f64::max);
        if pair.gain > most {
            reasons.push(format!(
                "A gain of {} is out of reach: at a Q of {} this circuit gives at most {}. A higher Q, less gain or an \
                 amplifier behind it would make it possible.",
                number(pair.gain),
                number(q),
                number(most.max(0.0)),
            ));
        }
        let m = TRIED
            .into_iter()
            .find(|&m| MOST * highest(q, m) > pair.gain);
        let m = m.unwrap_or(TRIED[0]);
        let inner = inner(q, m);
        reasons.extend(guidance::too_slow(op_amp, inner, f, "a lower Q"));
        reasons
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::BandPass(pair) = ask else {
            return Vec::new();
        };
        let mut advice = Vec::new();
        let k = amplification(pair.q, 1.0);
        advice.extend(guidance::sallen_key_op_amp(
            op_amp,
            pair.frequency,
            pair.q,
            k,
        ));
        let sensitivity = k * pair.q / 2f64.sqrt();
        if pair.q > 3.0 {
            advice.push(format!(
                "One per cent of the gain 1 + R5/R6 moves the Q by some {} per cent: multiple feedback holds a high Q better.",
                number(sensitivity),
            ));
        }
        advice
    }
}

/// Ratios of R3 to R1 ∥ R2 that are tried, the usual one first.
const TRIED: [f64; 8] = [1.0, 1.5, 2.0, 3.0, 4.5, 7.0, 10.0, 15.0];
/// The largest share of the signal that the input's divider is made to pass.
const MOST: f64 = 0.9;

/// K for equal capacitors.
fn amplification(q: f64, m: f64) -> f64 {
    3.0 + m - (1.0 + m).sqrt() / q
}

/// The gain at the centre for equal capacitors without R2; none where K would have to be 1 or less.
fn highest(q: f64, m: f64) -> f64 {
    let k = amplification(q, m);
    if k > 1.02 {
        m * k * q / (1.0 + m).sqrt()
    } else {
        f64::NEG_INFINITY
    }
}

/// Noise gain of the loop at the centre: K times the Q over that without feedback.
fn inner(q: f64, m: f64) -> f64 {
    amplification(q, m) * q * (3.0 + m) / (1.0 + m).sqrt()
}
