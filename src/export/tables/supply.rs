//! A supply's lines on the plant's modes.

use super::{Cell, Table};
use crate::outcome::SupplyOutcome;
use crate::supply::Source;

/// What makes a line, its order, and its converters, counted from 1.
fn source(source: Source) -> [String; 3] {
    let (kind, order) = match source {
        Source::Harmonic { order, .. } => ("harmonic", order.to_string()),
        Source::Subharmonic { order, divisor, .. } => ("subharmonic", format!("{order}/{divisor}")),
        Source::Burst { order, .. } => ("burst", order.to_string()),
        Source::Modulation { order, .. } => ("modulation", order.to_string()),
        Source::Beat { orders, .. } => ("beat", format!("{}:{}", orders.0, orders.1)),
    };
    let converters = match source.converters() {
        (one, None) => (one + 1).to_string(),
        (one, Some(other)) => format!("{} {}", one + 1, other + 1),
    };
    [kind.to_owned(), order, converters]
}

/// A row for each line that falls on a mode, loudest first.
pub(super) fn hits(told: &SupplyOutcome) -> Table {
    let through = told.units.get("through_db").map_or("dB", String::as_str);
    let mut table = Table::new([
        "Mode".to_owned(),
        "Line".to_owned(),
        "Order".to_owned(),
        "Converters".to_owned(),
        "Line from (Hz)".to_owned(),
        "Line to (Hz)".to_owned(),
        "Shared from (Hz)".to_owned(),
        "Shared to (Hz)".to_owned(),
        "Loudest at (Hz)".to_owned(),
        "Path (dB)".to_owned(),
        format!("Plant ({through})"),
        "Sensitivity (dB)".to_owned(),
        format!("Through ({through})"),
    ]);
    for one in &told.hits {
        let (line, passage) = (&one.hit.line, &one.passage);
        let [kind, order, converters] = source(line.source);
        table.row([
            Cell::Count(one.hit.mode as u64 + 1),
            Cell::Words(&kind),
            Cell::Words(&order),
            Cell::Words(&converters),
            Cell::Number(line.range.0),
            Cell::Number(line.range.1),
            Cell::Number(one.hit.shared.0),
            Cell::Number(one.hit.shared.1),
            Cell::Number(passage.frequency),
            Cell::Number(passage.path_db),
            Cell::Number(passage.plant_db),
            Cell::Maybe(passage.sensitivity_db),
            Cell::Number(passage.through_db),
        ]);
    }
    table
}
