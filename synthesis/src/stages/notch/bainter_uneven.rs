//! The three-op-amp notch with its null apart from its poles: low-pass notch or high-pass notch.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::guidance;

use super::bainter::{BainterNotch, C1, C2, R1, R2, R3, R4, R5, R6};
use crate::stages::{Ask, Catalogued, Drawing, Grouping, Stage, UnevenNotchAsk};

pub struct BainterUneven;

impl Catalogued for BainterUneven {
    fn id(&self) -> &'static str {
        "bainter-uneven-notch"
    }

    fn title(&self) -> &'static str {
        "Bainter, low-pass or high-pass notch"
    }

    /// The same circuit with other values.
    fn netlist(&self) -> Netlist {
        BainterNotch.netlist()
    }

    fn default_ask(&self) -> Ask {
        Ask::UnevenNotch(UnevenNotchAsk {
            gain: (5000.0f64 / 3500.0).powi(2),
            ..UnevenNotchAsk::default()
        })
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[&[C1], &[C2]],
            free: &[&[R1, R2]],
            solved: &[&[R3], &[R4], &[R5, R6]],
            ..Grouping::default()
        }
    }
}

impl Stage for BainterUneven {
    fn summary(&self) -> &'static str {
        "Three op amps; the null does not depend on matching; the gain far above is 1, that at DC the square of null over pole frequency."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "J. R. Bainter, “Active filter has stable notch, and response can be regulated”, Electronics, 1975",
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (Bainter notch)",
        ]
    }

    fn drawing(&self) -> Drawing {
        BainterNotch.drawing()
    }

    /// As for the notch with equal frequencies, but R3 sets the null and R4 the poles:
    /// ωz² = 1/(R3·R5·C1·C2), ω0² = 1/(R4·R5·C1·C2), Q = ω0·C2·(R5 ∥ R6).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let Ask::UnevenNotch(wanted) = ask else {
            return;
        };
        let (zero, pole) = [wanted.null, wanted.frequency]
            .map(|f| std::f64::consts::TAU * f)
            .into();
        let (c1, c2) = (values[C1], values[C2]);
        let r = 2.0 * wanted.q / (pole * c2);
        (values[R5], values[R6]) = (r, r);
        values[R3] = 1.0 / (zero * zero * r * c1 * c2);
        values[R4] = 1.0 / (pole * pole * r * c1 * c2);
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let Ask::UnevenNotch(wanted) = ask else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        let gain = (wanted.null / wanted.frequency).powi(2);
        if (wanted.gain / gain - 1.0).abs() > wanted.gain_limit {
            reasons.push(format!(
                "Gain at DC is {} in this circuit, the square of null over pole frequency, because far above it is 1. That gain, \
                 or the state-variable circuit, whose gain is free, would make it possible.",
                rounded(gain, Unit::One, 4)
            ));
        }
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
