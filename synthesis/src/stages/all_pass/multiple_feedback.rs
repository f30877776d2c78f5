//! The multiple-feedback all-pass: a band-pass taken twice from the signal, with one op amp.
//!
//! An inverting multiple-feedback band-pass (R1, C1, C2, R2) whose op amp also sees a fraction of the
//! signal at its other input (R3, R4): where the two ways cancel it is a notch, with a smaller fraction
//! its zeros stand opposite to its poles.

use std::f64::consts::TAU;

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::guidance::{self, number};
use crate::stages::notch::multiple_feedback::{C1, C2, MfbNotch, R1, R2, R3, R4};
use crate::stages::{AllPass2Ask, Ask, Catalogued, Drawing, Grouping, Stage};

pub struct MfbAllPass;

impl Catalogued for MfbAllPass {
    fn id(&self) -> &'static str {
        "mfb-all-pass"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback all-pass"
    }

    /// The notch's circuit with another divider.
    fn netlist(&self) -> Netlist {
        MfbNotch.netlist()
    }

    fn default_ask(&self) -> Ask {
        Ask::AllPass2(AllPass2Ask {
            q: 2.0,
            gain_limit: 0.1,
            ..AllPass2Ask::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            solved: &[&[R1], &[R2]],
            dividers: &[(R3, R4)],
            ..Grouping::default()
        }
    }
}

impl Stage for MfbAllPass {
    fn summary(&self) -> &'static str {
        "Turns the phase by 360° with one op amp; its gain is below 1, and near 1 only with a high Q or with C2 far above C1."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Delyiannis, “High-Q Factor Circuit with Reduced Sensitivity”, Electronics Letters, 1968 (the band-pass core)",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (all-pass as 1 − 2·band-pass)",
        ]
    }

    fn drawing(&self) -> Drawing {
        MfbNotch.drawing()
    }

    /// With an ideal op amp and k = R4/(R3 + R4), ω0² = 1/(R1·R2·C1·C2), 1/(ω0·Q) = R1·(C1 + C2), and
    /// the zeros mirror the poles where k = p/(p + 2) with p = Q²·(1 + C2/C1); k is then the gain.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::AllPass2(turn) = ask else { return };
        let omega = TAU * turn.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let product = turn.q * turn.q * (1.0 + c2 / c1);
        let needed = least_product(turn.gain_limit).max(2.0 * turn.q * turn.q);
        if (0.5 * needed..=MOST * needed).contains(&product) {
            values[R1] = 1.0 / (omega * turn.q * (c1 + c2));
            values[R2] = turn.q * (c1 + c2) / (omega * c1 * c2);
        } else {
            // Below, the gain is far too low; above, it hardly wins any more and uses up the op amp.
            [values[R1], values[R2]] = [f64::NAN; 2];
        }
        let k = product / (product + 2.0);
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        values[R3] = 10e3 / k;
        values[R4] = 10e3 / (1.0 - k);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::AllPass2(turn) = ask else {
            return Vec::new();
        };
        let square = turn.q * turn.q;
        let needed = ratio_needed(turn);
        let (q, gain) = (number(turn.q), rounded(1.0 - turn.gain_limit, Unit::One, 3));
        [
            guidance::off_the_shelf(shelf, turn.frequency),
            guidance::capacitors_apart(
                shelf,
                needed,
                "C2/C1",
                &format!(
                    "The gain of this circuit is below 1; to be {gain} or more at a Q of {q} it"
                ),
                "A higher Q, a wider gain limit with an amplifier behind",
            ),
            guidance::resistors_apart(
                shelf,
                square * (1.0 + needed).powi(2) / needed,
                "R2/R1",
                &format!("A Q of {q} with a gain of {gain} or more"),
                "A Q nearer to 1, a wider gain limit",
            ),
            guidance::too_slow(
                op_amp,
                inner(turn),
                turn.frequency,
                "a lower Q, a wider gain limit",
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn advice(&self, ask: &Ask, op_amp: &OpAmp) -> Vec<String> {
        let Ask::AllPass2(turn) = ask else {
            return Vec::new();
        };
        let product = turn.q * turn.q * (1.0 + ratio_needed(turn));
        let mut advice = vec![format!(
            "The gain is Q²·(1 + C2/C1)/(Q²·(1 + C2/C1) + 2), here {} or a little more: where it counts, make it up in \
             another stage.",
            number(product / (product + 2.0)),
        )];
        advice.extend(guidance::multiple_feedback_op_amp(
            op_amp,
            inner(turn),
            turn.frequency,
        ));
        advice
    }
}

/// How far beyond what the gain takes capacitors are followed.
const MOST: f64 = 2.0;

/// The least Q²·(1 + C2/C1) with which the gain holds its limit.
fn least_product(limit: f64) -> f64 {
    2.0 * (1.0 - limit) / limit
}

/// The least C2/C1 with which the gain holds its limit; equal capacitors where they do.
fn ratio_needed(turn: &AllPass2Ask) -> f64 {
    (least_product(turn.gain_limit) / (turn.q * turn.q) - 1.0).max(1.0)
}

/// Noise gain of the loop at the turn.
fn inner(turn: &AllPass2Ask) -> f64 {
    1.0 + turn.q * turn.q * (1.0 + ratio_needed(turn))
}
