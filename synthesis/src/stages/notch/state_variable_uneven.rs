//! The state-variable notch with its null apart from its poles: low-pass notch or high-pass notch of any gain.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::stages::guidance;

use super::state_variable::{C1, C2, R1, R2, R3, R4, R5, R6, R7, R8, R9, R10, StateVariableNotch};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, UnevenNotchAsk};

pub struct StateVariableUneven;

impl Catalogued for StateVariableUneven {
    fn id(&self) -> &'static str {
        "state-variable-uneven-notch"
    }

    fn title(&self) -> &'static str {
        "State variable, low-pass or high-pass notch"
    }

    /// The same circuit with other values.
    fn netlist(&self) -> Netlist {
        StateVariableNotch.netlist()
    }

    fn default_ask(&self) -> Ask {
        Ask::UnevenNotch(UnevenNotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R2, R3, R10]],
            solved: &[&[R6, R7], &[R8], &[R9]],
            dividers: &[(R4, R5)],
            ..Grouping::default()
        }
    }
}

impl Stage for StateVariableUneven {
    fn summary(&self) -> &'static str {
        "Four op amps; null, poles, Q and gain are all set independently."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "W. J. Kerwin, L. P. Huelsman, R. W. Newcomb, “State-variable synthesis for insensitive integrated circuit transfer functions”, IEEE J. Solid-State Circuits 2, 1967",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (state variable)",
        ]
    }

    fn drawing(&self) -> Drawing {
        StateVariableNotch.drawing()
    }

    /// ω0² = 1/(R6·C1·R7·C2), Q = ω0·R6·C1/(3k) with k = R5/(R4 + R5), ωz² = ω0²·R8/R9, and the gain at DC is
    /// R10/R9.
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::UnevenNotch(wanted) = ask else {
            return;
        };
        let omega = std::f64::consts::TAU * wanted.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let r = 1.0 / (omega * (c1 * c2).sqrt());
        (values[R6], values[R7]) = (r, r);
        let k = omega * r * c1 / (3.0 * wanted.q);
        let parallel = 5e3;
        values[R4] = parallel / k;
        values[R5] = parallel / (1.0 - k);
        values[R9] = values[R10] / wanted.gain;
        values[R8] = values[R9] * (wanted.null / wanted.frequency).powi(2);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::UnevenNotch(wanted) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        if wanted.q < 0.35 {
            reasons.push("Q is too low for this circuit with equal summing resistors: a Q above 0.35 would make it possible.".into());
        }
        // R9 = R10/gain, and R8 = R9·(null/pole)².
        let below = wanted.gain / (wanted.null / wanted.frequency).powi(2).min(1.0);
        let apart = below.max(1.0 / wanted.gain);
        let reason = "This gain with this null";
        reasons.extend(guidance::resistors_apart(
            shelf,
            apart,
            "R10, R8 and R9",
            reason,
            "A gain nearer to 1",
        ));
        let inner = 4.0 * wanted.q;
        reasons.extend(guidance::off_the_shelf(shelf, wanted.frequency));
        reasons.extend(guidance::too_slow(
            op_amp,
            inner,
            wanted.frequency,
            "a lower Q",
        ));
        reasons
    }
}
