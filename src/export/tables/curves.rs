//! Curves of a stage or of the path.

use super::Table;
use crate::outcome::{Curve, Curves};

/// Over frequency, and beside it over time: two axes, each in front of its columns.
pub(super) fn curves(curves: &Curves) -> Table {
    let kinds: [(&str, &Curve); 3] = [
        ("requirement", &curves.ask),
        ("ideal op amp", &curves.ideal),
        ("real op amp", &curves.real),
    ];
    let mut columns = vec![("Frequency (Hz)".to_owned(), &curves.frequency[..])];
    for (kind, curve) in kinds {
        columns.push((format!("Level, {kind} (dB)"), &curve.magnitude_db));
        columns.push((format!("Phase, {kind} (deg)"), &curve.phase_deg));
        columns.push((format!("Group delay, {kind} (s)"), &curve.delay));
    }
    columns.push(("Time (s)".to_owned(), &curves.time));
    for (kind, curve) in kinds {
        columns.push((format!("Step response, {kind} (1)"), &curve.step));
    }
    Table::of_columns(columns)
}
