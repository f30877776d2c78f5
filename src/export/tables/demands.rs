//! Demands on op amps, levels, offsets.

use super::{Cell, Table, unit_name};
use crate::demands::When;
use crate::outcome::DemandsOutcome;

/// A row for each demand on each op amp, then one for each node's level, then offsets and supply.
pub(super) fn demands(told: &DemandsOutcome) -> Table {
    let mut table = Table::new(
        [
            "Stage",
            "Op amp or node",
            "Data sheet",
            "Quantity",
            "Unit",
            "Needed",
            "Available",
            "At (Hz)",
            "After (s)",
        ]
        .map(str::to_owned),
    );
    let moment = |when: When| match when {
        When::Always => [None, None],
        When::Sine(frequency) => [Some(frequency), None],
        When::Moved(time) => [None, Some(time)],
    };
    for own in &told.op_amps {
        for demand in &own.demands {
            let [frequency, time] = moment(demand.when);
            table.row([
                Cell::Count(own.stage as u64 + 1),
                Cell::Words(&own.name),
                Cell::Words(if own.sheet.is_empty() {
                    "usual"
                } else {
                    &own.sheet
                }),
                Cell::Words(demand.quantity.name()),
                Cell::Words(unit_name(demand.quantity.unit())),
                Cell::Number(demand.needed),
                Cell::Number(demand.has),
                Cell::Maybe(frequency),
                Cell::Maybe(time),
            ]);
        }
    }
    for level in &told.nodes {
        let [frequency, time] = moment(level.peak.when);
        table.row([
            Cell::Count(level.stage as u64 + 1),
            Cell::Words(&level.node),
            Cell::Words(""),
            Cell::Words("level"),
            Cell::Words("V"),
            Cell::Number(level.peak.value),
            Cell::Maybe(None),
            Cell::Maybe(frequency),
            Cell::Maybe(time),
        ]);
    }
    let mut whole = |name: &str, unit: &str, value: Option<f64>| {
        table.row([
            Cell::Words("path"),
            Cell::Words(""),
            Cell::Words(""),
            Cell::Words(name),
            Cell::Words(unit),
            Cell::Maybe(value),
            Cell::Maybe(None),
            Cell::Maybe(None),
            Cell::Maybe(None),
        ]);
    };
    whole("signal-allowed", "", told.signal_allowed());
    whole("output-offset", "V", told.offset.output);
    whole("input-offset", "V", told.offset.input);
    whole("supply-current", "A", Some(told.supply_current));
    whole("supply-power", "W", Some(told.supply_power));
    table
}
