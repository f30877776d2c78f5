//! Other circuits for the same ask: each picked off the same shelf with the same op amp and drawn on
//! the same number of boards, so that the table is fair.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::task::Poll;

use super::population::population_of;
use super::refusal;
use super::spread::boards_design;
use super::task::{Asked, Before, Blocked, Task, Turn};
use super::{better, picks};
use crate::design::{Design, InputError, StageDesign};
use crate::noise;
use crate::outcome::{OtherOutcome, Outcome};
use crate::pick::{self, Choices, NoiseLimit, QuietSearch};
use crate::response::log_grid;
use crate::spread::{RunStage, RunView, Sampling, SpreadRun, quantiles};
use crate::stages::{CATALOGUE, Model, Scratch, Stage};

/// At most so many boards are drawn for a row of the table.
const BOARDS: u32 = 2000;

/// The table, row by row.
pub(super) struct Others {
    circuits: Vec<&'static dyn Stage>,
    at: Option<Row>,
    rows: Vec<OtherOutcome>,
}

/// A row that is being worked out.
struct Row {
    model: Model,
    search: QuietSearch,
    drawing: Option<Drawing>,
}

/// All of a row but what its boards tell, and these.
struct Drawing {
    row: OtherOutcome,
    /// With the limit on its noise.
    model: Model,
    run: SpreadRun,
}

/// Rows, and whether these are all.
pub(super) struct Table {
    rows: Vec<OtherOutcome>,
    is_whole: bool,
}

impl Task for Others {
    const FIELD: &'static str = "others";
    /// Of the path the shown stage alone, with its ask and what it works between.
    type Reads = Design;
    type Finds = Table;

    fn reads(asked: &Asked) -> Result<Option<Design>, Blocked> {
        let design = asked.design;
        let shown = design.stages.get(design.view.stage);
        Ok(shown.filter(|_| design.view.compare).map(|shown| {
            let mut reads = boards_design(design);
            reads.stages = vec![StageDesign {
                pins: BTreeMap::new(),
                ..shown.of_picks()
            }];
            reads.view.stage = 0;
            // Other circuits have this stage's op amp in all places.
            reads.op_amp = design.stage_data_sheet(shown).of_noise();
            reads.noise = design.noise;
            reads.conditions.temperature = design.conditions.temperature;
            reads
        }))
    }

    /// All circuits that answer asks of the shown stage's family.
    fn begin(reads: &Design, _: Option<Before<Others>>) -> Result<Others, Vec<InputError>> {
        let ask = &reads.stages[0].ask;
        let alike = |stage: &&&dyn Stage| stage.default_ask().is_like(ask);
        let mut circuits: Vec<&'static dyn Stage> =
            CATALOGUE.iter().filter(alike).copied().collect();
        circuits.reverse();
        Ok(Others {
            circuits,
            at: None,
            rows: Vec::new(),
        })
    }

    fn advance(&mut self, reads: &Design, go_on: &mut dyn FnMut() -> bool) -> Turn<Table> {
        let shown = &reads.stages[0];
        let Some(row) = &mut self.at else {
            let Some(stage) = self.circuits.pop() else {
                return Turn::Found(Table {
                    rows: std::mem::take(&mut self.rows),
                    is_whole: true,
                });
            };
            if let Ok(model) = Model::new(stage, &shown.ask, &reads.op_amp.op_amp()) {
                let model = model.between(shown.between);
                let limit = noise_limit(reads, &model);
                let weights = picks::weights(shown);
                let pins = BTreeMap::new();
                let search = QuietSearch::new(&model, &reads.shelf, &pins, weights, limit);
                self.at = Some(Row {
                    model,
                    search,
                    drawing: None,
                });
            }
            return Turn::More(self.progress());
        };
        let Poll::Ready(whole) = row.advance(reads, go_on) else {
            return Turn::More(self.progress());
        };
        self.rows.push(whole);
        self.at = None;
        Turn::Partly(Table {
            rows: self.rows.clone(),
            is_whole: false,
        })
    }

    fn tell(_: &Design, found: &Table, outcome: &mut Outcome) {
        outcome.others.clone_from(&found.rows);
        if found.is_whole {
            outcome.better = better::better(&found.rows);
        }
    }
}

impl Others {
    fn progress(&self) -> f64 {
        let done = self.rows.len() as f64;
        done / (done + self.circuits.len() as f64 + 1.0)
    }
}

impl Row {
    /// Works until the row is whole, a stretch of its work is done, or `go_on` says no.
    fn advance(&mut self, design: &Design, go_on: &mut dyn FnMut() -> bool) -> Poll<OtherOutcome> {
        if let Some(drawing) = &mut self.drawing {
            let drawn = drawing.run.advance(&[&drawing.model], go_on);
            return drawn.map(|()| drawing.told());
        }
        if self.search.advance(&self.model, go_on).is_pending() {
            return Poll::Pending;
        }
        let choices = self.search.take();
        let row = told(design, &self.model, &choices);
        let Some(best) = choices.picks.first() else {
            return Poll::Ready(row);
        };
        self.drawing = Some(Drawing::new(design, &self.model, &best.values, row));
        Poll::Pending
    }
}

impl Drawing {
    fn new(design: &Design, model: &Model, values: &[f64], row: OtherOutcome) -> Drawing {
        let rule = noise_limit(design, model);
        let rule = rule.and_then(|limit| noise::rule(model, values, &limit.setting, limit.highest));
        let model = model.with_noise(rule.map(Arc::new));
        let run = boards(design, &model, values);
        Drawing { row, model, run }
    }

    /// The row with what its boards tell.
    fn told(&self) -> OtherOutcome {
        let run = &self.run;
        let figures = self.model.yardstick.figures();
        let null = figures.iter().position(|f| f.name == "ask-attenuation-db");
        let worst_depth_db = null.map(|figure| {
            let values = run.figure(figure).iter().copied();
            let readable: Vec<f64> = values.filter(|v| v.is_finite()).collect();
            quantiles(&readable, [0.05])[0]
        });
        OtherOutcome {
            share: f64::from(run.passed()) / f64::from(run.drawn()),
            worst_depth_db,
            ..self.row.clone()
        }
    }
}

/// All of a row but what its boards tell.
fn told(design: &Design, model: &Model, choices: &Choices) -> OtherOutcome {
    let (stage, shown) = (model.stage, &design.stages[design.view.stage]);
    let mut row = OtherOutcome {
        circuit: stage.id().to_owned(),
        title: stage.title().to_owned(),
        taken: stage.id() == shown.circuit,
        reach: None,
        parts: model.bought.iter().filter(|bought| **bought).count() as u32,
        op_amps: model.op_amp_count(),
        distinct: 0,
        points: f64::NAN,
        miss: f64::NAN,
        share: f64::NAN,
        boards: design.spread.boards.min(BOARDS),
        worst_depth_db: None,
        phase_deg: f64::NAN,
        gain_bandwidth: f64::NAN,
        noise: f64::NAN,
    };
    let rules = || stage.reach(&model.ask, &design.shelf, &design.op_amp.op_amp());
    let Some(best) = choices.picks.first() else {
        row.reach = Some(refusal::told(model, choices, &rules(), None));
        return row;
    };
    if !best.rank.holds() {
        let limit = noise_limit(design, model);
        row.reach = Some(refusal::told(model, choices, &rules(), limit.as_ref()));
    }
    let values = &best.values;
    row.distinct = best.rank.bother.distinct;
    row.points = best.rank.bother.points(&picks::weights(shown));
    row.miss = best.rank.miss;
    let h = model.transfer(values).at(design.view.phase_at) * f64::from(stage.sign());
    row.phase_deg = h.arg().to_degrees();
    row.gain_bandwidth = pick::least_gain_bandwidth(model, values).unwrap_or(f64::NAN);
    row.noise = output_noise(design, model, values).unwrap_or(f64::NAN);
    row
}

/// The limit on the shown stage's noise holds for every circuit.
fn noise_limit(design: &Design, model: &Model) -> Option<NoiseLimit> {
    Some(NoiseLimit {
        highest: design.stages[design.view.stage].noise_limit?,
        setting: setting(design, model),
    })
}

/// The design's op amp stands in all places.
fn setting(design: &Design, model: &Model) -> noise::Setting {
    noise::Setting {
        band: (design.noise.from, design.noise.to),
        kelvin: design.conditions.kelvin(),
        op_amps: vec![design.op_amp.noise(); model.op_amp_count() as usize],
    }
}

/// Over the design's band, with the design's op amp in all places, V rms.
fn output_noise(design: &Design, model: &Model, values: &[f64]) -> Option<f64> {
    let setting = setting(design, model);
    let grid = noise::grid(setting.band, &model.transfer(values));
    noise::output_rms(model, values, &setting, grid)
}

fn boards(design: &Design, model: &Model, values: &[f64]) -> SpreadRun {
    let reference = model.transfer(values);
    let stage = RunStage {
        model,
        nominal: model.figures(values, None, &mut Scratch::default()),
        reference: &reference,
    };
    let alone = StageDesign {
        variations: BTreeMap::new(),
        ..design.stages[design.view.stage].clone()
    };
    let sampling = Sampling {
        population: population_of(design, &alone, (model, values)),
        seed: design.spread.seed,
        boards: design.spread.boards.min(BOARDS),
        stop: None,
    };
    let centre = model.ask.frequency();
    let view = RunView {
        stage: 0,
        frequencies: log_grid(centre, centre * 1.01, 2),
        phase_at: design.view.phase_at,
    };
    SpreadRun::new(vec![stage], sampling, view)
}
