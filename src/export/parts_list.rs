//! The parts list: what to buy for so many boards, and what to buy where that cannot be had.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::tables::{Cell, Table, unit_name};
use super::tolerance;
use crate::demands::{listed, missing};
use crate::design::Design;
use crate::noise;
use crate::numerics::put_in_order;
use crate::outcome::{DemandsOutcome, Least, Outcome, PartOutcome, StageOutcome};
use crate::parts::DataSheet;
use crate::quantity::{self, Unit};
use crate::solve::noise_limit;
use crate::stages::{Model, Scratch, by_id};
use crate::wording::{capital, in_stage};

/// One thing to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct PartsRow {
    /// Where it goes: "R1", and "2·R1" in the second of several stages.
    pub designators: Vec<String>,
    /// "resistor", "capacitor" or "op amp".
    pub kind: &'static str,
    /// Ω or F; none for op amps.
    pub value: Option<f64>,
    pub unit: Unit,
    /// As it is printed on the part (IEC 60062), "" where there is no code.
    pub code: String,
    /// A fraction.
    pub tolerance: Option<f64>,
    pub tolerance_letter: Option<char>,
    /// For all boards together.
    pub quantity: u64,
    pub substitute: Option<Substitute>,
    /// What is demanded of an op amp, in sentences.
    pub demands: String,
}

/// Another value for all places of a row, every other part as it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Substitute {
    pub value: f64,
    /// Worst deviation over its limit of the stages in which it would stand; 1 is on the limit.
    pub miss: f64,
}

/// A stage with all that a substitute is judged by.
struct Judged<'a> {
    outcome: &'a StageOutcome,
    model: Model,
    /// Of all the netlist's parts.
    values: Vec<f64>,
}

/// Where a part stands: the stage's place, and its own among the stage's bought parts.
type At = (usize, usize);

/// Resistors first, then capacitors, each in rising values, then op amps; equal parts of all stages together.
///
/// # Errors
/// A sentence where `boards` is 0, or the outcome is another design's.
pub fn parts_list(
    design: &Design,
    outcome: &Outcome,
    boards: u32,
) -> Result<Vec<PartsRow>, String> {
    if boards == 0 {
        return Err("The number of boards is 0; 1 or more are accepted.".to_owned());
    }
    let stages = judged(design, outcome)?;
    let mut rows: Vec<PartsRow> = Vec::new();
    for places in together(&outcome.stages) {
        let Some(&(stage, part)) = places.first() else {
            continue;
        };
        let part = &outcome.stages[stage].parts[part];
        let is_resistor = part.unit == Unit::Ohm;
        rows.push(PartsRow {
            designators: designators(&outcome.stages, &places),
            kind: if is_resistor { "resistor" } else { "capacitor" },
            value: Some(part.value),
            unit: part.unit,
            code: quantity::code(part.value, part.unit).unwrap_or_default(),
            tolerance: Some(part.tolerance),
            tolerance_letter: tolerance::letter(part.tolerance, part.unit, part.value),
            quantity: places.len() as u64 * u64::from(boards),
            substitute: substitute(design, &stages, &places, part),
            demands: String::new(),
        });
    }
    rows.extend(op_amps(design, outcome, &stages, boards));
    Ok(rows)
}

/// The outcome's stages with their models.
fn judged<'a>(design: &Design, outcome: &'a Outcome) -> Result<Vec<Judged<'a>>, String> {
    let other = || "The outcome is not this design's: solve it first.".to_owned();
    if design.stages.len() != outcome.stages.len() {
        return Err(other());
    }
    let pairs = design.stages.iter().zip(&outcome.stages);
    pairs
        .map(|(asked, told)| {
            let circuit = by_id(&told.circuit).filter(|_| asked.circuit == told.circuit);
            let circuit = circuit.ok_or_else(other)?;
            let model = Model::new(circuit, &asked.ask, &design.op_amp.op_amp());
            let model = model.map_err(|error| error.to_string())?;
            let model = model.with_op_amps(&design.op_amps_of(asked));
            let model = model.between(asked.between);
            let values = values(&model, told);
            let limit = noise_limit(design, asked);
            let rule =
                limit.and_then(|limit| noise::rule(&model, &values, &limit.setting, limit.highest));
            Ok(Judged {
                outcome: told,
                model: model.with_noise(rule.map(Arc::new)),
                values,
            })
        })
        .collect()
}

/// Values of all the netlist's parts.
fn values(model: &Model, told: &StageOutcome) -> Vec<f64> {
    let parts = model.netlist.parts().iter().enumerate();
    parts
        .map(|(at, part)| {
            let bought = told.parts.iter().find(|known| known.name == part.name);
            bought.map_or_else(|| model.given(at), |known| known.value)
        })
        .collect()
}

/// Places of equal parts: same kind, value and tolerance.
fn together(stages: &[StageOutcome]) -> Vec<Vec<At>> {
    let all = stages.iter().enumerate().flat_map(|(stage, told)| {
        let parts = told.parts.iter().enumerate();
        parts.map(move |(at, part)| ((stage, at), part))
    });
    let mut groups: Vec<(&PartOutcome, Vec<At>)> = Vec::new();
    for (at, part) in all {
        let is_same = |known: &PartOutcome| {
            known.unit == part.unit
                && known.value == part.value
                && known.tolerance == part.tolerance
        };
        match groups.iter_mut().find(|(known, _)| is_same(known)) {
            Some((_, places)) => places.push(at),
            None => groups.push((part, vec![at])),
        }
    }
    put_in_order(&mut groups, |(a, _), (b, _)| {
        let kind = |part: &PartOutcome| part.unit != Unit::Ohm;
        let by_value = a.value.total_cmp(&b.value);
        let by_tolerance = a.tolerance.total_cmp(&b.tolerance);
        kind(a).cmp(&kind(b)).then(by_value).then(by_tolerance)
    });
    groups.into_iter().map(|(_, places)| places).collect()
}

fn designators(stages: &[StageOutcome], places: &[At]) -> Vec<String> {
    let name =
        |&(stage, part): &At| in_stage(stages.len() > 1, stage, &stages[stage].parts[part].name);
    places.iter().map(name).collect()
}

/// The value that the first of the picks behind the taken one has there, of those that differ in these parts alone;
/// where there is none, of the two neighbours on the shelf the one with the smaller worst deviation.
fn substitute(
    design: &Design,
    stages: &[Judged],
    places: &[At],
    part: &PartOutcome,
) -> Option<Substitute> {
    let mut of_stage: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (stage, part) in places {
        of_stage.entry(*stage).or_default().push(*part);
    }
    let mut lists = of_stage
        .iter()
        .map(|(&stage, parts)| picked(stages[stage].outcome, parts));
    let first = lists.next()?;
    let others: Vec<Vec<f64>> = lists.collect();
    let is_in_all = |value: &&f64| others.iter().all(|list| list.contains(value));
    let candidates = match first.iter().find(is_in_all) {
        Some(value) => vec![*value],
        None => neighbours(design, part),
    };
    let read = candidates.into_iter().map(|value| Substitute {
        value,
        miss: worst(stages, &of_stage, value),
    });
    read.min_by(|a, b| a.miss.total_cmp(&b.miss))
}

/// Values that picks behind the taken one give these parts of a stage, where they leave all others as they are.
fn picked(told: &StageOutcome, parts: &[usize]) -> Vec<f64> {
    let Some(taken) = told.picks.get(told.choice) else {
        return Vec::new();
    };
    let behind = told.picks.iter().skip(told.choice + 1);
    behind
        .filter_map(|pick| {
            let value = *pick.values.get(*parts.first()?)?;
            let mut pairs = taken.values.iter().zip(&pick.values).enumerate();
            let fits = pairs.all(|(at, (now, then))| match parts.contains(&at) {
                true => *then == value && then != now,
                false => then == now,
            });
            fits.then_some(value)
        })
        .collect()
}

/// The values on the shelf below and above a part's own.
fn neighbours(design: &Design, part: &PartOutcome) -> Vec<f64> {
    let bin = match part.unit {
        Unit::Ohm => &design.shelf.resistors,
        _ => &design.shelf.capacitors,
    };
    let values = bin.values();
    let below = values.iter().rev().find(|value| **value < part.value);
    let above = values.iter().find(|value| **value > part.value);
    below.into_iter().chain(above).copied().collect()
}

/// The worst deviation over its limit of these stages with another value in these places.
fn worst(stages: &[Judged], of_stage: &BTreeMap<usize, Vec<usize>>, value: f64) -> f64 {
    let mut scratch = Scratch::default();
    let misses = of_stage.iter().map(|(&stage, parts)| {
        let Judged {
            outcome,
            model,
            values,
        } = &stages[stage];
        let mut values = values.clone();
        for part in parts {
            if let Some(at) = model.netlist.position(&outcome.parts[*part].name) {
                values[at] = value;
            }
        }
        model.worst_miss(&values, &mut scratch)
    });
    misses.fold(0.0, f64::max)
}

/// A row for each op amp that the design names, in the order in which they are met.
fn op_amps(design: &Design, outcome: &Outcome, stages: &[Judged], boards: u32) -> Vec<PartsRow> {
    let least = outcome.demands.as_ref().map(DemandsOutcome::least);
    let least = least.unwrap_or_default();
    let mut kinds: Vec<(&DataSheet, Vec<At>)> = Vec::new();
    for (place, (stage, asked)) in stages.iter().zip(&design.stages).enumerate() {
        for (at, part) in stage.model.netlist.parts().iter().enumerate() {
            if Unit::of(part.kind).is_some() {
                continue;
            }
            let sheet = design.data_sheet(asked, &part.name);
            match kinds
                .iter_mut()
                .find(|(known, _)| std::ptr::eq(*known, sheet))
            {
                Some((_, places)) => places.push((place, at)),
                None => kinds.push((sheet, vec![(place, at)])),
            }
        }
    }
    let row = |(sheet, places): (&DataSheet, Vec<At>)| {
        let name = |&(stage, at): &At| {
            let part = &stages[stage].model.netlist.parts()[at];
            in_stage(stages.len() > 1, stage, &part.name)
        };
        PartsRow {
            quantity: places.len() as u64 * u64::from(boards),
            designators: places.iter().map(name).collect(),
            kind: "op amp",
            value: None,
            unit: Unit::One,
            code: String::new(),
            tolerance: None,
            tolerance_letter: None,
            substitute: None,
            demands: demands(sheet, least.iter().find(|least| least.sheet == sheet.name)),
        }
    };
    kinds.into_iter().map(row).collect()
}

/// What these op amps must be, in sentences.
fn demands(sheet: &DataSheet, least: Option<&Least>) -> String {
    let named = match sheet.name.is_empty() {
        true => String::new(),
        false => format!("{}: ", sheet.name),
    };
    let worked_out = format!(
        "{named}worked out with a gain-bandwidth of {}, an open-loop gain of {} and an output resistance of {}.",
        quantity::exact(sheet.gain_bandwidth, Unit::Hertz),
        quantity::exact(sheet.gain_db, Unit::Decibel),
        quantity::exact(sheet.output_resistance, Unit::Ohm),
    );
    let needs = least.map(|least| format!("Needs at least {}.", listed(&least.demands)));
    let short = least.and_then(|least| missing(&least.demands));
    let all = std::iter::once(capital(&worked_out))
        .chain(needs)
        .chain(short);
    all.collect::<Vec<_>>().join(" ")
}

/// The list as comma-separated values.
///
/// # Errors
/// As [`Table::written`].
pub(super) fn written(rows: &[PartsRow], boards: u32) -> Result<String, String> {
    let mut table = Table::new([
        "Designators".to_owned(),
        "Kind".to_owned(),
        "Value".to_owned(),
        "Unit".to_owned(),
        "Code (IEC 60062)".to_owned(),
        "Tolerance (%)".to_owned(),
        "Tolerance code (IEC 60062)".to_owned(),
        format!(
            "Quantity for {boards} {}",
            if boards == 1 { "board" } else { "boards" }
        ),
        "Substitute".to_owned(),
        "Substitute's code (IEC 60062)".to_owned(),
        "Worst deviation with the substitute (1 is on the limit)".to_owned(),
        "Demands".to_owned(),
    ]);
    for row in rows {
        let letter = row.tolerance_letter.map(String::from).unwrap_or_default();
        let substitute = row.substitute.map(|other| other.value);
        let code = substitute.and_then(|value| quantity::code(value, row.unit));
        table.row([
            Cell::Words(&row.designators.join(" ")),
            Cell::Words(row.kind),
            Cell::Maybe(row.value),
            Cell::Words(row.value.map_or("", |_| unit_name(row.unit))),
            Cell::Words(&row.code),
            Cell::Maybe(row.tolerance.map(percent)),
            Cell::Words(&letter),
            Cell::Count(row.quantity),
            Cell::Maybe(substitute),
            Cell::Words(&code.unwrap_or_default()),
            Cell::Maybe(row.substitute.map(|other| other.miss)),
            Cell::Words(&row.demands),
        ]);
    }
    table.written()
}

/// A fraction in per cent, without the rounding of its factor of a hundred.
fn percent(fraction: f64) -> f64 {
    quantity::to_digits(100.0 * fraction, 12)
}
