//! The multiple-feedback notch: one op amp, and a null that a divider sets.
//!
//! An inverting multiple-feedback band-pass (R1, C1, C2, R2) whose op amp also sees a fraction of the
//! signal at its other input (R3, R4): at the notch frequency the two ways cancel.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::response::{self, Transfer};

use super::drawing::Orientation::{Horizontal, Vertical};
use super::{Ask, Drawing, Figure, Grouping, Limit, NotchAsk, Stage, SymbolKind, Terms};

pub(super) struct MfbNotch;

/// Positions in the netlist.
const R1: usize = 0;
const C1: usize = 1;
const C2: usize = 2;
const R2: usize = 3;
const R3: usize = 4;
const R4: usize = 5;

const FREQUENCY: usize = 0;
const DEPTH: usize = 1;
const ASK_ATTENUATION: usize = 2;
const EDGE_LOW: usize = 3;
const EDGE_HIGH: usize = 4;
const Q: usize = 5;
const GAIN_LOW: usize = 6;
const GAIN_HIGH: usize = 7;

/// The passband is read at DC and this far above the asked frequency.
const FAR: f64 = 100.0;
/// How far from the ask the deepest point is looked for, as a ratio.
const SEARCH: f64 = 8.0;

const FIGURES: [Figure; 8] = [
    Figure {
        name: "notch-frequency",
        label: "Notch frequency",
        unit: Unit::Hertz,
        meaning: "Where the magnitude curve is deepest.",
    },
    Figure {
        name: "depth-db",
        label: "Depth",
        unit: Unit::Decibel,
        meaning: "Attenuation at the deepest point, from input to output.",
    },
    Figure {
        name: "ask-attenuation-db",
        label: "Attenuation at the asked frequency",
        unit: Unit::Decibel,
        meaning: "What the asked frequency itself loses, from input to output.",
    },
    Figure {
        name: "edge-low",
        label: "Lower −3 dB edge",
        unit: Unit::Hertz,
        meaning: "Below the notch, where the gain is 1/√2 of that at DC.",
    },
    Figure {
        name: "edge-high",
        label: "Upper −3 dB edge",
        unit: Unit::Hertz,
        meaning: "Above the notch, where the gain is 1/√2 of that at DC.",
    },
    Figure {
        name: "q",
        label: "Q",
        unit: Unit::One,
        meaning: "Notch frequency over the width between the −3 dB edges.",
    },
    Figure {
        name: "gain-low-db",
        label: "Gain below",
        unit: Unit::Decibel,
        meaning: "Passband gain at DC.",
    },
    Figure {
        name: "gain-high-db",
        label: "Gain above",
        unit: Unit::Decibel,
        meaning: "Gain two decades above the asked frequency, where the op amp may already tire.",
    },
];

/// The ask of this stage.
///
/// # Panics
/// When the design check let another family through, which it does not.
fn notch(ask: &Ask) -> &NotchAsk {
    let Ask::Notch(notch) = ask;
    notch
}

/// Where the deepest point and both edges are, Hz; NaN where there is none.
fn landmarks(notch: &NotchAsk, transfer: &Transfer, hint: Option<&[f64]>) -> (f64, f64, f64) {
    const NONE: f64 = f64::NAN;
    let known = |figure: usize| hint.map(|near| near[figure]).filter(|f| f.is_finite());
    let wide = (notch.frequency / SEARCH, notch.frequency * SEARCH);
    let deepest = known(FREQUENCY)
        .and_then(|near| response::deepest_near(transfer, near, 1.2))
        .or_else(|| response::deepest(transfer, wide, 48));
    let Some(deepest) = deepest else {
        return (NONE, NONE, NONE);
    };
    let level = transfer.at(0.0).norm() * std::f64::consts::FRAC_1_SQRT_2;
    let edge = |direction: f64, figure: usize| {
        known(figure)
            .and_then(|near| response::crossing_near(transfer, near, level))
            .filter(|edge| (edge - deepest) * direction > 0.0)
            .or_else(|| response::crossing(transfer, deepest, level, direction, 1e-3, 12.0))
            .unwrap_or(NONE)
    };
    (deepest, edge(-1.0, EDGE_LOW), edge(1.0, EDGE_HIGH))
}

impl Stage for MfbNotch {
    fn id(&self) -> &'static str {
        "mfb-notch"
    }

    fn title(&self) -> &'static str {
        "Multiple-feedback notch"
    }

    fn summary(&self) -> &'static str {
        "One op amp, low output impedance, passband gain a little below 1; the depth hangs on the divider R3, R4."
    }

    fn sign(&self) -> i8 {
        1
    }

    fn sources(&self) -> &'static [&'static str] {
        &[
            "Zumbahlen, “Linear Circuit Design Handbook”, ch. 8 (multiple-feedback band-pass; notch as 1 − band-pass)",
            "Franco, “Design with Operational Amplifiers and Analog Integrated Circuits”, ch. 3 (multiple feedback)",
        ]
    }

    fn netlist(&self) -> Netlist {
        Netlist::new("in", "out")
            .resistor("R1", "in", "common")
            .capacitor("C1", "common", "out")
            .capacitor("C2", "common", "minus")
            .resistor("R2", "minus", "out")
            .resistor("R3", "in", "plus")
            .resistor("R4", "plus", "0")
            .op_amp("U1", "plus", "minus", "out")
    }

    fn drawing(&self) -> Drawing {
        Drawing::default()
            .symbol("", SymbolKind::Input, (0, 8))
            .symbol("R1", SymbolKind::Resistor(Horizontal), (3, 8))
            .symbol("C2", SymbolKind::Capacitor(Horizontal), (9, 8))
            .symbol("C1", SymbolKind::Capacitor(Horizontal), (9, 1))
            .symbol("R2", SymbolKind::Resistor(Horizontal), (16, 4))
            .symbol("R3", SymbolKind::Resistor(Horizontal), (6, 14))
            .symbol("R4", SymbolKind::Resistor(Vertical), (12, 14))
            .symbol("", SymbolKind::Ground, (12, 18))
            .symbol("U1", SymbolKind::OpAmp { plus_above: false }, (15, 8))
            .symbol("", SymbolKind::Output, (25, 9))
            .wire(&[(0, 8), (2, 8)])
            .wire(&[(2, 8), (3, 8)])
            .wire(&[(2, 8), (2, 14), (6, 14)])
            .wire(&[(7, 8), (8, 8)])
            .wire(&[(8, 8), (9, 8)])
            .wire(&[(8, 8), (8, 1), (9, 1)])
            .wire(&[(13, 8), (14, 8)])
            .wire(&[(14, 8), (15, 8)])
            .wire(&[(14, 8), (14, 4), (16, 4)])
            .wire(&[(10, 14), (12, 14)])
            .wire(&[(12, 14), (14, 14), (14, 10), (15, 10)])
            .wire(&[(20, 9), (22, 9)])
            .wire(&[(22, 9), (25, 9)])
            .wire(&[(20, 4), (22, 4)])
            .wire(&[(22, 4), (22, 9)])
            .wire(&[(13, 1), (22, 1), (22, 4)])
    }

    fn default_ask(&self) -> Ask {
        Ask::Notch(NotchAsk::default())
    }

    fn grouping(&self) -> Grouping {
        Grouping {
            chosen: &[C1, C2],
            solved: &[R1, R2],
            dividers: &[(R3, R4)],
        }
    }

    /// With an ideal op amp and k = R4/(R3 + R4), nodal analysis of the netlist gives
    /// ω0² = 1/(R1·R2·C1·C2), pole Q = √(R1·R2·C1·C2)/(R1·(C1 + C2)), and at ω0 the real gain
    /// d = \[k·(R2·C2 + R1·(C1 + C2)) − R2·C2\]/(R1·(C1 + C2)). A notch that is not complete has its
    /// −3 dB edges wider apart than its poles say: Q = pole Q/√(1 − 2(d/k)²).
    fn solve(&self, ask: &Ask, values: &mut [f64]) {
        let notch = notch(ask);
        let omega = std::f64::consts::TAU * notch.frequency;
        let (c1, c2) = (values[C1], values[C2]);
        let d = notch.depth.gain();
        let mut pole_q = notch.q;
        let mut k = 1.0;
        // The passband gain k depends on the pole Q and the pole Q, for a finite depth, on k.
        for _ in 0..40 {
            let ratio = pole_q * pole_q * (1.0 + c2 / c1);
            k = (ratio + d) / (ratio + 1.0);
            let shallow = 1.0 - 2.0 * (d / k) * (d / k);
            pole_q = notch.q * shallow.max(1e-3).sqrt();
        }
        values[R1] = 1.0 / (omega * pole_q * (c1 + c2));
        values[R2] = pole_q * (c1 + c2) / (omega * c1 * c2);
        // The divider's level is free: 10 kΩ in parallel is comfortable.
        let parallel = 10e3;
        values[R3] = parallel / k;
        values[R4] = parallel / (1.0 - k).max(1e-9);
    }

    fn term_shape(&self) -> Terms {
        Terms { groups: &[1, 1, 2] }
    }

    /// Frequency; Q; and the complex gain at the asked frequency, whose distance from the wanted one
    /// is smooth where a depth in decibels is not. That distance counts from the passband, or a set
    /// that quiets every frequency would pass for a notch.
    fn terms(&self, ask: &Ask, transfer: &Transfer, hint: Option<&[f64]>, terms: &mut [f64]) {
        let notch = notch(ask);
        let (f0, low, high) = landmarks(notch, transfer, hint);
        let q = f0 / (high - low);
        terms[0] = (f0 / notch.frequency - 1.0) / notch.frequency_limit;
        terms[1] = (q / notch.q - 1.0) / notch.q_limit;
        let wanted = notch.depth.gain();
        let room = 10f64.powf(-notch.least_depth / 20.0) - wanted;
        let miss = (transfer.at(notch.frequency) - wanted) / transfer.at(0.0).norm();
        terms[2] = miss.re / room;
        terms[3] = miss.im / room;
    }

    fn figures(&self) -> &'static [Figure] {
        &FIGURES
    }

    fn read(&self, ask: &Ask, transfer: &Transfer, hint: Option<&[f64]>, figures: &mut [f64]) {
        let notch = notch(ask);
        let (f0, low, high) = landmarks(notch, transfer, hint);
        figures[FREQUENCY] = f0;
        figures[DEPTH] = -transfer.magnitude_db(f0);
        figures[ASK_ATTENUATION] = -transfer.magnitude_db(notch.frequency);
        figures[EDGE_LOW] = low;
        figures[EDGE_HIGH] = high;
        figures[Q] = f0 / (high - low);
        figures[GAIN_LOW] = transfer.magnitude_db(0.0);
        figures[GAIN_HIGH] = transfer.magnitude_db(notch.frequency * FAR);
    }

    fn wanted(&self, ask: &Ask) -> Vec<Option<f64>> {
        let notch = notch(ask);
        let mut wanted = vec![None; FIGURES.len()];
        wanted[FREQUENCY] = Some(notch.frequency);
        wanted[Q] = Some(notch.q);
        if let super::Depth::Decibel(db) = notch.depth {
            wanted[DEPTH] = Some(db);
        }
        wanted
    }

    fn limits(&self, ask: &Ask) -> Vec<Limit> {
        let notch = notch(ask);
        let around = |figure, value: f64, fraction: f64| Limit {
            figure,
            lowest: Some(value * (1.0 - fraction)),
            highest: Some(value * (1.0 + fraction)),
        };
        vec![
            around(FREQUENCY, notch.frequency, notch.frequency_limit),
            around(Q, notch.q, notch.q_limit),
            Limit {
                figure: ASK_ATTENUATION,
                lowest: Some(notch.least_depth),
                highest: None,
            },
        ]
    }

    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String> {
        let notch = notch(ask);
        let mut reasons = Vec::new();
        let resistors = shelf.resistors.values();
        if let (Some(lowest), Some(highest)) = (resistors.first(), resistors.last()) {
            // R2/R1 = Q²·(C1 + C2)²/(C1·C2) is least, 4Q², for equal capacitors.
            let most = (highest / lowest).sqrt() / 2.0;
            if notch.q > most {
                reasons.push(format!(
                    "Q {} is too high for this circuit and this shelf: it needs R2 at least 4·Q² = {} times R1, and the shelf \
                     goes from {} to {}. A Q of {} or less, or a wider range of resistors, would bring it back.",
                    rounded(notch.q, Unit::One, 3),
                    rounded(4.0 * notch.q * notch.q, Unit::One, 3),
                    rounded(*lowest, Unit::Ohm, 3),
                    rounded(*highest, Unit::Ohm, 3),
                    rounded(most, Unit::One, 3),
                ));
            }
        }
        // Inside the loop stands the band-pass, whose gain at f0 is 2Q²: the op amp needs more than
        // that there, and ten times more before the figures stay where they are put (common practice).
        let needed = 2.0 * notch.q * notch.q * notch.frequency;
        if op_amp.gain_bandwidth < 4.0 * needed {
            reasons.push(format!(
                "The op amp is too slow: the circuit's inner gain at the notch is 2·Q² = {}, so a gain-bandwidth of {} is used \
                 up at {}. An op amp of {} or more, a lower Q or a lower frequency would bring it back.",
                rounded(2.0 * notch.q * notch.q, Unit::One, 3),
                rounded(op_amp.gain_bandwidth, Unit::Hertz, 3),
                rounded(op_amp.gain_bandwidth / (2.0 * notch.q * notch.q), Unit::Hertz, 3),
                rounded(10.0 * needed, Unit::Hertz, 2),
            ));
        }
        reasons
    }
}
