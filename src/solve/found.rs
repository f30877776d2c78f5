//! What the picked parts are and do.

use super::curves;
use super::line::{Found, Line};
use super::{refusal, trade};
use crate::design::{Design, InputError, View};
use crate::outcome::{FigureOutcome, GivenPart, Note, PartOutcome, PickOutcome, StageOutcome};
use crate::pick::{self, Choices, Pick};
use crate::quantity::{Unit, rounded};
use crate::stages::{Model, Scratch};

/// Describes the chosen pick of a line that has its choices.
///
/// # Errors
/// Blames the ask when there is no pick at all.
pub(super) fn describe(
    design: &Design,
    index: usize,
    line: &Line,
) -> Result<Found, Vec<InputError>> {
    let (real, ideal) = (&line.real, &line.ideal);
    let stage = real.stage;
    let none = Choices::default();
    let choices = line.choices.as_ref().unwrap_or(&none);
    let reasons = stage.reach(&real.ask, &design.shelf, &design.op_amp);
    let Some(best) = choices.picks.first() else {
        return Err(vec![InputError::new(
            &format!("/stages/{index}/ask"),
            refusal::told(real, choices, &reasons),
        )]);
    };
    let choice = design.stages[index].choice.min(choices.picks.len() - 1);
    let values = choices.picks[choice].values.clone();
    let exact = exact_values(design, index, real, &values);
    let mut notes: Vec<Note> = Vec::new();
    if !best.rank.holds() {
        notes.push(Note::Reach(refusal::told(real, choices, &reasons)));
    }
    let advice = stage.advice(&real.ask, &design.op_amp);
    let least = least_bandwidth(real, &choices.picks[0], &advice);
    notes.extend(advice.into_iter().chain(least).map(Note::Advice));
    let sign = f64::from(stage.sign());
    let asked = real
        .yardstick
        .goal(sign)
        .unwrap_or_else(|| ideal.transfer(&asked_values(ideal, &values)));
    let transfers = [asked, ideal.transfer(&values), real.transfer(&values)];
    let bought = |values: &[f64]| -> Vec<f64> {
        let all = values.iter().zip(&real.bought);
        all.filter(|(_, bought)| **bought)
            .map(|(v, _)| *v)
            .collect()
    };
    let shown = index == design.view.stage;
    let outcome = StageOutcome {
        circuit: stage.id().to_owned(),
        title: stage.title().to_owned(),
        summary: stage.summary().to_owned(),
        sources: stage.sources().iter().map(|s| (*s).to_owned()).collect(),
        sign: stage.sign(),
        parts: parts(design, index, real, &values, &exact),
        given: given(real, &values),
        op_amps: real.op_amps(),
        drawing: stage.drawing(),
        figures: figures(design, real, ideal, &values),
        picks: choices
            .picks
            .iter()
            .map(|pick| PickOutcome {
                values: bought(&pick.values),
                miss: pick.rank.miss,
                share: pick.rank.share,
                distinct: pick.rank.bother.distinct,
                trade: trade::against(real, best, pick),
            })
            .collect(),
        choice,
        curves: shown.then(|| {
            let rows = [0, 1, 2].map(|k| vec![&transfers[k]]);
            curves::draw(span(&design.view, real), rows)
        }),
        notes,
    };
    Ok(Found {
        figures: real.figures(&values, None, &mut Scratch::default()),
        values,
        transfers,
        outcome,
    })
}

/// What is drawn of a stage's curves, Hz.
fn span(view: &View, model: &Model) -> (f64, f64) {
    let (low, high) = model.ask.asked().span();
    let reach = 10f64.powf(view.decades);
    (low / reach, high * reach)
}

/// Values that meet the ask exactly with the real op amp and the bought chosen parts; a divider's
/// upper part as bought, since only its fraction matters.
fn exact_values(design: &Design, index: usize, real: &Model, bought: &[f64]) -> Vec<f64> {
    let mut pinned = vec![false; bought.len()];
    for name in design.stages[index].pins.keys() {
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

/// Beside what common practice asks of the op amp, what this circuit does with less.
fn least_bandwidth(real: &Model, best: &Pick, advice: &[String]) -> Option<String> {
    let is_asked_of = advice.iter().any(|one| one.starts_with("Common practice"));
    if !is_asked_of || !best.rank.holds() {
        return None;
    }
    let least = pick::least_gain_bandwidth(real, &best.values)?;
    Some(format!(
        "Computed: with its parts solved again this circuit holds every limit down to a gain-bandwidth of {}.",
        rounded(least, Unit::Hertz, 2)
    ))
}

/// The ask itself as parts: the stage's design equations for the bought chosen parts.
fn asked_values(ideal: &Model, bought: &[f64]) -> Vec<f64> {
    let mut values = bought.to_vec();
    ideal.stage.solve(&ideal.ask, &mut values);
    values
}

fn parts(
    design: &Design,
    index: usize,
    model: &Model,
    values: &[f64],
    exact: &[f64],
) -> Vec<PartOutcome> {
    let stage = &design.stages[index];
    let pins = &stage.pins;
    let all = model.netlist.parts().iter().enumerate();
    all.filter(|(at, _)| model.bought[*at])
        .filter_map(|(at, part)| {
            Some(PartOutcome {
                name: part.name.clone(),
                unit: part.kind.unit()?,
                exact: exact[at],
                value: values[at],
                miss: values[at] / exact[at] - 1.0,
                tolerance: stage
                    .strays
                    .get(&part.name)
                    .and_then(|own| own.tolerance)
                    .unwrap_or(part.kind.bin(&design.shelf)?.tolerance),
                pinned: pins.contains_key(&part.name),
            })
        })
        .collect()
}

fn given(model: &Model, values: &[f64]) -> Vec<GivenPart> {
    let all = model.netlist.parts().iter().zip(values).enumerate();
    all.filter(|(at, _)| !model.bought[*at])
        .filter_map(|(_, (part, &value))| {
            Some(GivenPart {
                name: part.name.clone(),
                unit: part.kind.unit()?,
                value,
            })
        })
        .collect()
}

fn figures(design: &Design, real: &Model, ideal: &Model, values: &[f64]) -> Vec<FigureOutcome> {
    let read = |model: &Model| {
        let mut scratch = Scratch::default();
        let mut figures = model.figures(values, None, &mut scratch);
        figures.push(scratch.transfer.phase_deg(design.view.phase_at));
        figures
    };
    let (with_real, with_ideal) = (read(real), read(ideal));
    let own = real.yardstick.figures();
    let mut all: Vec<FigureOutcome> = own
        .iter()
        .enumerate()
        .map(|(index, figure)| FigureOutcome {
            name: figure.name.to_owned(),
            label: figure.label.clone(),
            meaning: figure.meaning.to_owned(),
            unit: figure.unit,
            value: with_real[index],
            ideal: with_ideal[index],
            wanted: figure.wanted,
            lowest: figure.lowest,
            highest: figure.highest,
        })
        .collect();
    let last = own.len();
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
