//! What the bench found of a measured board.

use super::{Cell, Table, unit_name};
use crate::bench::{OpAmpNumber, Report};

/// A row for each number of each part, as marked and as it most probably is.
pub(super) fn values(told: &Report) -> Table {
    let mut table = Table::new(
        [
            "Stage",
            "Part",
            "Number",
            "Unit",
            "Marked",
            "Most probable",
            "Deviation (1)",
            "Standard deviation (1)",
            "Tolerance (1)",
            "Seen by this measurement",
        ]
        .map(str::to_owned),
    );
    for part in &told.parts {
        let number = match part.what {
            None => "value",
            Some(OpAmpNumber::OpenLoopGain) => "open-loop gain",
            Some(OpAmpNumber::GainBandwidth) => "gain-bandwidth",
        };
        table.row([
            Cell::Count(part.at.stage as u64 + 1),
            Cell::Words(&part.at.part),
            Cell::Words(number),
            Cell::Words(unit_name(part.unit)),
            Cell::Number(part.marked),
            Cell::Number(part.value),
            Cell::Number(part.deviation),
            Cell::Number(part.standard_deviation),
            Cell::Number(part.tolerance),
            Cell::Words(if part.is_measured { "yes" } else { "no" }),
        ]);
    }
    table
}
