//! What is read off a loop, row by row: how it is called, what it means, and where it stands.

use super::LoopOutcome;
use crate::feedback::Margins;
use crate::quantity::Unit;

/// One row of the margins.
pub struct MarginRow {
    pub name: &'static str,
    pub label: &'static str,
    pub meaning: &'static str,
    pub unit: Unit,
    pub read: fn(&LoopOutcome) -> Option<f64>,
    /// Where it was read, Hz.
    pub place: fn(&Margins) -> Option<f64>,
}

fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// In the order of reading.
pub const MARGIN_ROWS: [MarginRow; 8] = [
    MarginRow {
        name: "crossover",
        label: "Crossover",
        meaning: "Where the open loop's gain falls through 1 for the last time",
        unit: Unit::Hertz,
        read: |l| Some(l.margins.crossover()?.frequency),
        place: |_| None,
    },
    MarginRow {
        name: "phase-margin",
        label: "Phase margin",
        meaning: "The smallest of all frequencies where the open loop's gain is 1",
        unit: Unit::Degree,
        read: |l| Some(l.margins.phase_margin()?.phase_margin),
        place: |m| Some(m.phase_margin()?.frequency),
    },
    MarginRow {
        name: "gain-margin",
        label: "Gain margin",
        meaning: "The loop oscillates if its gain rises by this much",
        unit: Unit::Decibel,
        read: |l| Some(decibels(l.margins.gain_margin()?.gain_margin)),
        place: |m| Some(m.gain_margin()?.frequency),
    },
    MarginRow {
        name: "gain-reduction-margin",
        label: "Lower gain margin",
        meaning: "The loop oscillates if its gain falls by this much; none where a lower gain is no danger",
        unit: Unit::Decibel,
        read: |l| Some(decibels(l.margins.gain_reduction_margin()?.gain_margin)),
        place: |m| Some(m.gain_reduction_margin()?.frequency),
    },
    MarginRow {
        name: "sensitivity-peak",
        label: "Sensitivity peak M_s",
        meaning: "Largest |1/(1 + L)|: one over the smallest distance to −1",
        unit: Unit::One,
        read: |l| Some(l.margins.sensitivity_peak?.0),
        place: |m| Some(m.sensitivity_peak?.1),
    },
    MarginRow {
        name: "bandwidth",
        label: "Closed-loop bandwidth",
        meaning: "Where |L/(1 + L)| has fallen by 3 dB",
        unit: Unit::Hertz,
        read: |l| l.margins.bandwidth,
        place: |_| None,
    },
    MarginRow {
        name: "rejection-band",
        label: "Rejection bandwidth",
        meaning: "Where |1/(1 + L)| first reaches 1: disturbances below are attenuated",
        unit: Unit::Hertz,
        read: |l| l.margins.rejection_band,
        place: |_| None,
    },
    MarginRow {
        name: "rejection",
        label: "Disturbance rejection",
        meaning: "|1/(1 + L)| at the frequency in “Disturbance rejection at”: the share of a disturbance that remains",
        unit: Unit::Decibel,
        read: |l| Some(l.rejection_db),
        place: |_| None,
    },
];
