//! The closed loop in time.

use super::{Cell, Table};
use crate::outcome::MotionOutcome;

/// A name with its unit, where it has one.
fn named(name: &str, unit: Option<&String>) -> String {
    unit.map_or_else(|| name.to_owned(), |unit| format!("{name} ({unit})"))
}

/// Reference, position, error and drive over time; none where the loop does not move.
pub(super) fn motion(told: &MotionOutcome) -> Option<Table> {
    let motion = told.answer.as_ref()?;
    let with_unit = |name: &str, key: &str| named(name, told.units.get(key));
    Some(Table::of_columns(vec![
        ("Time (s)".to_owned(), &motion.time[..]),
        (with_unit("Reference", "reference"), &motion.reference),
        (with_unit("Position", "position"), &motion.position),
        (with_unit("Error", "error"), &motion.error),
        (with_unit("Drive", "drive"), &motion.drive),
    ]))
}

/// What is read off it, and the error constants.
pub(super) fn figures(told: &MotionOutcome) -> Option<Table> {
    let figures = &told.answer.as_ref()?.figures;
    let mut table = Table::new(["Figure", "Value", "Unit"]);
    let unit = |key: &str| told.units.get(key).map_or("1", String::as_str);
    let rows = [
        ("overshoot", figures.overshoot, "1"),
        ("peak time", figures.peak_time, "s"),
        ("rise time", figures.rise_time, "s"),
        ("settling time", figures.settling_time, "s"),
        ("peak error", Some(figures.peak_error), unit("peak_error")),
        ("peak error's time", Some(figures.peak_error_time), "s"),
        ("steady error", figures.steady_error, unit("steady_error")),
        ("last error", Some(figures.last_error), unit("last_error")),
        ("effective error", figures.rms_error, unit("rms_error")),
        ("drive peak", Some(figures.drive_peak), unit("drive_peak")),
        ("drive peak's time", Some(figures.drive_peak_time), "s"),
    ];
    let constants = told.constants.iter().flat_map(|constants| {
        [
            ("position error constant", constants.kp, "1"),
            ("velocity error constant", constants.kv, "1/s"),
            ("acceleration error constant", constants.ka, "1/s²"),
        ]
    });
    for (name, value, unit) in rows.into_iter().chain(constants) {
        // What does not exist is left out.
        if value.is_some() {
            table.row([Cell::Words(name), Cell::Maybe(value), Cell::Words(unit)]);
        }
    }
    Some(table)
}
