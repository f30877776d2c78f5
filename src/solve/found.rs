//! What the picked parts are and do.

use super::{curves, trade};
use crate::circuit::Kind;
use crate::design::{Design, InputError};
use crate::outcome::{FigureOutcome, Note, PartOutcome, PickOutcome, StageOutcome};
use crate::pick::{self, Choices};
use crate::quantity::{Unit, rounded};
use crate::stages::{Model, Scratch};

/// Describes the chosen pick of a stage.
///
/// # Errors
/// Blames the ask when there is no pick at all.
pub(super) fn describe(
    design: &Design,
    real: &Model,
    ideal: &Model,
    choices: &Choices,
) -> Result<StageOutcome, Vec<InputError>> {
    let stage = real.stage;
    let reasons = stage.reach(&real.ask, &design.shelf, &design.op_amp);
    let Some(best) = choices.picks.first() else {
        return Err(vec![InputError::new(
            "/stages/0/ask",
            out_of_reach(real, choices, reasons),
        )]);
    };
    let choice = design.stages[0].choice.min(choices.picks.len() - 1);
    let values = &choices.picks[choice].values;
    let exact = exact_values(design, real, values);
    let asked = asked_values(ideal, values);

    let mut notes: Vec<Note> = Vec::new();
    if best.rank.miss > 1.0 {
        notes.push(Note::Reach(out_of_reach(real, choices, reasons)));
    }
    let (ask, bought_ideal, bought_real) = (
        ideal.transfer(&asked),
        ideal.transfer(values),
        real.transfer(values),
    );
    Ok(StageOutcome {
        circuit: stage.id().to_owned(),
        title: stage.title().to_owned(),
        summary: stage.summary().to_owned(),
        sources: stage.sources().iter().map(|s| (*s).to_owned()).collect(),
        sign: stage.sign(),
        parts: parts(design, real, values, &exact),
        drawing: stage.drawing(),
        figures: figures(design, real, ideal, values),
        picks: choices
            .picks
            .iter()
            .map(|pick| PickOutcome {
                values: pick.values.clone(),
                miss: pick.rank.miss,
                distinct: pick.rank.distinct,
                trade: trade::against(real, best, pick),
            })
            .collect(),
        choice,
        curves: curves::draw(
            &design.view,
            real.ask.frequency(),
            [&ask, &bought_ideal, &bought_real],
        ),
        notes,
    })
}

/// Values that meet the ask exactly with the real op amp and the bought chosen parts; a divider's
/// upper part as bought, since only its fraction matters.
fn exact_values(design: &Design, real: &Model, bought: &[f64]) -> Vec<f64> {
    let mut pinned = vec![false; bought.len()];
    for name in design.stages[0].pins.keys() {
        if let Some(position) = real.netlist.position(name) {
            pinned[position] = true;
        }
    }
    let mut values = pick::solve(real, bought, &pinned, 1e-9, None, &mut Scratch::default())
        .map_or_else(|| bought.to_vec(), |solution| solution.values);
    for &(upper, lower) in real.stage.grouping().dividers {
        let level = bought[upper] / values[upper];
        values[upper] *= level;
        values[lower] *= level;
    }
    values
}

/// The ask itself as parts: the stage's design equations for the bought chosen parts.
fn asked_values(ideal: &Model, bought: &[f64]) -> Vec<f64> {
    let mut values = bought.to_vec();
    ideal.stage.solve(&ideal.ask, &mut values);
    values
}

fn parts(design: &Design, model: &Model, values: &[f64], exact: &[f64]) -> Vec<PartOutcome> {
    let pins = &design.stages[0].pins;
    let mut parts = Vec::new();
    for (index, part) in model.netlist.parts().iter().enumerate() {
        let (unit, bin) = match part.kind {
            Kind::Resistor { .. } => (Unit::Ohm, &design.shelf.resistors),
            Kind::Capacitor { .. } => (Unit::Farad, &design.shelf.capacitors),
            Kind::OpAmp { .. } => continue,
        };
        parts.push(PartOutcome {
            name: part.name.clone(),
            unit,
            exact: exact[index],
            value: values[index],
            miss: values[index] / exact[index] - 1.0,
            tolerance: bin.tolerance,
            pinned: pins.contains_key(&part.name),
        });
    }
    parts
}

fn figures(design: &Design, real: &Model, ideal: &Model, values: &[f64]) -> Vec<FigureOutcome> {
    let stage = real.stage;
    let read = |model: &Model| {
        let mut figures = vec![0.0; stage.figures().len()];
        let transfer = model.transfer(values);
        stage.read(&model.ask, &transfer, None, &mut figures);
        figures.push(transfer.phase_deg(design.view.phase_at));
        figures
    };
    let (with_real, with_ideal) = (read(real), read(ideal));
    let limits = stage.limits(&real.ask);
    let wanted = stage.wanted(&real.ask);
    let mut all: Vec<FigureOutcome> = Vec::new();
    for (index, figure) in stage.figures().iter().enumerate() {
        let limit = limits.iter().find(|l| l.figure == index);
        all.push(FigureOutcome {
            name: figure.name.to_owned(),
            label: figure.label.to_owned(),
            meaning: figure.meaning.to_owned(),
            unit: figure.unit,
            value: with_real[index],
            ideal: with_ideal[index],
            wanted: wanted[index],
            lowest: limit.and_then(|l| l.lowest),
            highest: limit.and_then(|l| l.highest),
        });
    }
    let last = stage.figures().len();
    all.push(FigureOutcome {
        name: "phase-deg".into(),
        label: format!("Phase at {}", rounded(design.view.phase_at, Unit::Hertz, 4)),
        meaning: "What the stage costs a loop that crosses over there.".into(),
        unit: Unit::Degree,
        value: with_real[last],
        ideal: with_ideal[last],
        wanted: None,
        lowest: None,
        highest: None,
    });
    all
}

/// Why nothing on the shelf meets the ask, and what would.
fn out_of_reach(model: &Model, choices: &Choices, mut reasons: Vec<String>) -> String {
    if reasons.is_empty()
        && let Some(exact) = &choices.nearest_exact
    {
        let wanted: Vec<String> = model
            .netlist
            .parts()
            .iter()
            .zip(exact)
            .filter_map(|(part, &value)| {
                let unit = match part.kind {
                    Kind::Resistor { .. } => Unit::Ohm,
                    Kind::Capacitor { .. } => Unit::Farad,
                    Kind::OpAmp { .. } => return None,
                };
                Some(format!("{} = {}", part.name, rounded(value, unit, 3)))
            })
            .collect();
        reasons.push(format!(
            "No set of values from the shelf holds the limits. The nearest exact values are {}; a finer series, a wider range, \
             fewer pins or wider limits would bring it within reach.",
            wanted.join(", ")
        ));
    }
    reasons.join(" ")
}
