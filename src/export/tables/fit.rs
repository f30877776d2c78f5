//! The fitted model, number by number.

use super::{Cell, Table};
use crate::plant::{Fitted, Model, NumberUnits};

/// A row a number, with its standard uncertainty; empty where the sweep says nothing about it.
pub(super) fn fit(fitted: &Fitted, units: &NumberUnits) -> Table {
    let mut table = Table::new(["Number", "Value", "Standard uncertainty", "Unit"]);
    let uncertainties = numbers(&fitted.uncertainties, units);
    for ((name, value, unit), (_, uncertainty, _)) in
        numbers(&fitted.model, units).into_iter().zip(uncertainties)
    {
        table.row([
            Cell::Words(&name),
            Cell::Number(value),
            Cell::Maybe(Some(uncertainty).filter(|known| *known < f64::MAX)),
            Cell::Words(&unit),
        ]);
    }
    table
}

/// All numbers of a model, always in the same order: name, value, unit.
fn numbers(model: &Model, units: &NumberUnits) -> Vec<(String, f64, String)> {
    let unit = |name: &str| units.get(name).cloned().unwrap_or_default();
    let mut all = Vec::new();
    let mut tell = |name: String, value: f64, unit: String| all.push((name, value, unit));
    if let Some(rigid) = &model.rigid {
        tell("rigid gain".to_owned(), rigid.gain, unit("gain"));
        if let Some(friction) = rigid.friction {
            tell("friction's corner".to_owned(), friction, "Hz".to_owned());
        }
    }
    for (at, mode) in model.modes.iter().enumerate() {
        let name = |what: &str| format!("mode {} {what}", at + 1);
        tell(name("frequency"), mode.frequency, "Hz".to_owned());
        tell(name("damping ratio"), mode.damping, "1".to_owned());
        tell(name("residue"), mode.residue, unit("residue"));
        tell(name("slope"), mode.slope, unit("slope"));
    }
    if let Some(lag) = model.lag {
        tell("lag's corner".to_owned(), lag, "Hz".to_owned());
    }
    tell("delay".to_owned(), model.delay, "s".to_owned());
    all
}
