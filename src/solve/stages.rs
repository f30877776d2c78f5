//! What the picked parts of each stage are and do.

use std::ops::Deref;
use std::sync::Arc;

use super::curves;
use super::picks::{Picked, Picks};
use super::task::{Asked, Before, Blocked, Finding, Seen, Task, Turn};
use super::{picks, refusal, trade};
use crate::design::{Design, InputError, StageDesign};
use crate::noise;
use crate::outcome::{
    FigureOutcome, GivenPart, Note, Outcome, PartOutcome, PickOutcome, StageOutcome,
};
use crate::parts::{OpAmp, Shelf};
use crate::pick::{self, NoiseLimit, Pick};
use crate::quantity::{Unit, rounded};
use crate::response::Transfer;
use crate::spread::PhaseAt;
use crate::stages::{Model, Scratch};

/// One stage of the path, described.
#[derive(Clone)]
pub(super) struct Line {
    picked: Arc<Picked>,
    pub found: Arc<Found>,
    /// The stage ready to be evaluated, with the limit on its noise where it has one.
    pub real: Model,
}

/// The pick that is in use.
pub(super) struct Found {
    /// Values of all the netlist's parts.
    pub values: Vec<f64>,
    /// The ask, the bought parts with an ideal op amp, and with the real one.
    pub transfers: [Transfer; 3],
    /// The real one's figures.
    pub figures: Vec<f64>,
    pub outcome: StageOutcome,
}

impl Deref for Line {
    type Target = Picked;

    fn deref(&self) -> &Picked {
        &self.picked
    }
}

/// All that one stage's description reads.
#[derive(PartialEq)]
pub(super) struct StageReads {
    picked: Seen<Picked>,
    stage: StageDesign,
    shelf: Shelf,
    op_amp: OpAmp,
    /// The limit on its noise.
    noise: Option<NoiseLimit>,
    /// Decades that are drawn to each side, where the stage is shown.
    decades: Option<f64>,
    /// Hz
    phase_at: f64,
}

/// The work, stage by stage.
pub(super) struct Stages {
    lines: Vec<Line>,
    /// What is known of the stages, and from what.
    before: Option<Finding<Stages>>,
}

impl Task for Stages {
    const FIELD: &'static str = "stages";
    type Reads = Vec<StageReads>;
    type Finds = Vec<Line>;

    fn reads(asked: &Asked) -> Result<Option<Vec<StageReads>>, Blocked> {
        let design: &Design = asked.design;
        let Some(picks) = asked.found::<Picks>()? else {
            return Ok(None);
        };
        let stages = picks.iter().zip(&design.stages).enumerate();
        let stages = stages.map(|(index, (picked, stage))| StageReads {
            picked: Seen(Arc::clone(picked)),
            stage: stage.without_bench(),
            shelf: design.shelf.clone(),
            op_amp: design.slowest_op_amp(stage),
            noise: picks::noise_limit(design, stage),
            decades: (index == design.view.stage).then_some(design.view.decades),
            phase_at: design.view.phase_at,
        });
        Ok(Some(stages.collect()))
    }

    fn begin(
        _: &Vec<StageReads>,
        before: Option<Before<Stages>>,
    ) -> Result<Stages, Vec<InputError>> {
        Ok(Stages {
            lines: Vec::new(),
            before: before.and_then(|before| before.found),
        })
    }

    fn advance(&mut self, reads: &Vec<StageReads>, _: &mut dyn FnMut() -> bool) -> Turn<Vec<Line>> {
        let index = self.lines.len();
        let Some(stage) = reads.get(index) else {
            return Turn::Found(std::mem::take(&mut self.lines));
        };
        let known = self
            .before
            .iter()
            .flat_map(|(of, all)| of.iter().zip(all.iter()));
        let mut known = known.filter(|(of, _)| *of == stage);
        let line = match known.next() {
            Some((_, line)) => line.clone(),
            None => match stage.describe(index) {
                Ok((found, real)) => Line {
                    picked: Arc::clone(&stage.picked.0),
                    found: Arc::new(found),
                    real,
                },
                Err(errors) => return Turn::Failed(errors),
            },
        };
        self.lines.push(line);
        Turn::More(self.lines.len() as f64 / reads.len() as f64)
    }

    fn is_same(first: &Vec<Line>, second: &Vec<Line>) -> bool {
        let mut pairs = first.iter().zip(second);
        first.len() == second.len() && pairs.all(|(a, b)| Arc::ptr_eq(&a.found, &b.found))
    }

    fn tell(_: &Vec<StageReads>, found: &Vec<Line>, outcome: &mut Outcome) {
        outcome.stages = found
            .iter()
            .map(|line| line.found.outcome.clone())
            .collect();
    }
}

impl StageReads {
    /// Describes the pick that is in use; `index` is the stage's place in the path.
    ///
    /// # Errors
    /// Blames the ask when there is no pick at all.
    fn describe(&self, index: usize) -> Result<(Found, Model), Vec<InputError>> {
        let Picked {
            real,
            ideal,
            choices,
            ..
        } = &*self.picked;
        let stage = real.stage;
        let reasons = stage.reach(&real.ask, &self.shelf, &self.op_amp);
        let Some(best) = choices.picks.first() else {
            return Err(vec![InputError::new(
                &format!("/stages/{index}/ask"),
                refusal::told(real, choices, &reasons, None),
            )]);
        };
        let choice = self.stage.choice.min(choices.picks.len() - 1);
        let values = choices.picks[choice].values.clone();
        let exact = exact_values(&self.stage, real, &values);
        let mut notes: Vec<Note> = Vec::new();
        if !best.rank.holds() {
            let told = refusal::told(real, choices, &reasons, self.noise.as_ref());
            notes.push(Note::Reach(told));
        }
        let advice = stage.advice(&real.ask, &self.op_amp);
        let least = least_bandwidth(real, best, &advice);
        notes.extend(advice.into_iter().chain(least).map(Note::Advice));
        let transfers = transfers(real, ideal, &values);
        let [quiet, quiet_ideal] = self.with_noise(&values);
        let outcome = StageOutcome {
            circuit: stage.id().to_owned(),
            title: stage.title().to_owned(),
            summary: stage.summary().to_owned(),
            sources: stage.sources().iter().map(|s| (*s).to_owned()).collect(),
            sign: stage.sign(),
            parts: self.parts(&values, &exact),
            given: given(real, &values),
            op_amps: real.op_amp_count(),
            drawing: stage.drawing(),
            figures: figures(self.phase_at, &quiet, &quiet_ideal, &values),
            picks: told_picks(real, best, &choices.picks),
            choice,
            curves: self.decades.map(|decades| {
                let rows = [0, 1, 2].map(|k| vec![&transfers[k]]);
                curves::draw(span(decades, real), rows)
            }),
            notes,
        };
        let found = Found {
            figures: quiet.figures(&values, None, &mut Scratch::default()),
            values,
            transfers,
            outcome,
        };
        Ok((found, quiet))
    }

    /// Both models with the limit on noise, where there is one: near these parts.
    fn with_noise(&self, values: &[f64]) -> [Model; 2] {
        let Picked { real, ideal, .. } = &*self.picked;
        let limit = self.noise.as_ref();
        let rule = limit.and_then(|limit| {
            noise::rule(real, values, &limit.setting, limit.highest).map(Arc::new)
        });
        [real, ideal].map(|model| model.with_noise(rule.clone()))
    }

    fn parts(&self, values: &[f64], exact: &[f64]) -> Vec<PartOutcome> {
        let model = &self.picked.real;
        let all = model.netlist.parts().iter().enumerate();
        let own = |name: &str| {
            self.stage
                .variations
                .get(name)
                .and_then(|own| own.tolerance)
        };
        all.filter(|(at, _)| model.bought[*at])
            .filter_map(|(at, part)| {
                Some(PartOutcome {
                    name: part.name.clone(),
                    unit: Unit::of(part.kind)?,
                    exact: exact[at],
                    value: values[at],
                    miss: values[at] / exact[at] - 1.0,
                    tolerance: own(&part.name).unwrap_or(self.shelf.bin(part.kind)?.tolerance),
                    pinned: self.stage.pins.contains_key(&part.name),
                })
            })
            .collect()
    }
}

/// The ask, the bought parts with an ideal op amp, and with the real one.
fn transfers(real: &Model, ideal: &Model, values: &[f64]) -> [Transfer; 3] {
    let sign = f64::from(real.stage.sign());
    let asked = real
        .yardstick
        .goal(sign)
        .unwrap_or_else(|| ideal.transfer(&asked_values(ideal, values)));
    [asked, ideal.transfer(values), real.transfer(values)]
}

/// Each pick against the best one.
fn told_picks(real: &Model, best: &Pick, picks: &[Pick]) -> Vec<PickOutcome> {
    let bought = |values: &[f64]| -> Vec<f64> {
        let all = values.iter().zip(&real.bought);
        all.filter(|(_, bought)| **bought)
            .map(|(v, _)| *v)
            .collect()
    };
    picks
        .iter()
        .map(|pick| PickOutcome {
            values: bought(&pick.values),
            miss: pick.rank.miss,
            share: pick.rank.share,
            distinct: pick.rank.bother.distinct,
            trade: trade::against(real, best, pick),
        })
        .collect()
}

/// What is drawn of a stage's curves, Hz.
pub(super) fn span(decades: f64, model: &Model) -> (f64, f64) {
    let (low, high) = model.ask.asked().span();
    let reach = 10f64.powf(decades);
    (low / reach, high * reach)
}

/// Values that meet the ask exactly with the real op amp and the bought chosen parts; a divider's
/// upper part as bought, since only its fraction matters.
fn exact_values(stage: &StageDesign, real: &Model, bought: &[f64]) -> Vec<f64> {
    let mut pinned = vec![false; bought.len()];
    for name in stage.pins.keys() {
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

fn given(model: &Model, values: &[f64]) -> Vec<GivenPart> {
    let all = model.netlist.parts().iter().zip(values).enumerate();
    all.filter(|(at, _)| !model.bought[*at])
        .filter_map(|(_, (part, &value))| {
            Some(GivenPart {
                name: part.name.clone(),
                unit: Unit::of(part.kind)?,
                value,
            })
        })
        .collect()
}

fn figures(phase_at: f64, real: &Model, ideal: &Model, values: &[f64]) -> Vec<FigureOutcome> {
    let phase = PhaseAt::new(phase_at, &real.transfer(values));
    let read = |model: &Model| {
        let mut scratch = Scratch::default();
        let mut figures = model.figures(values, None, &mut scratch);
        figures.push(phase.of(&scratch.transfer));
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
        label: format!("Phase at {}", rounded(phase_at, Unit::Hertz, 4)),
        meaning: "How far the stage turns the phase there; an inversion is 180° of it.".into(),
        unit: Unit::Degree,
        value: with_real[last],
        ideal: with_ideal[last],
        wanted: None,
        lowest: None,
        highest: None,
    });
    all
}
