//! Other circuits for the same ask: each picked off the same shelf with the same op amp and drawn on
//! the same number of boards, so that the table is fair.

use std::collections::BTreeMap;

use super::population::population_of;
use super::refusal;
use crate::design::{Design, StageDesign};
use crate::outcome::OtherOutcome;
use crate::pick::{self, Choices, Search, Weights};
use crate::response::log_grid;
use crate::spread::{RunStage, RunView, Sampling, SpreadRun, quantiles};
use crate::stages::{CATALOGUE, Model, Scratch, Stage};

/// At most so many boards are drawn for a row of the table.
const BOARDS: u32 = 2000;

/// The table, row by row.
pub(super) struct Comparison {
    circuits: Vec<&'static dyn Stage>,
    taken: &'static str,
    at: Option<Row>,
}

/// A row that is being worked out.
struct Row {
    model: Model,
    search: Search,
}

impl Comparison {
    /// All circuits that answer asks of the shown stage's family.
    pub fn new(shown: &Model) -> Comparison {
        let alike = |stage: &&&dyn Stage| stage.default_ask().is_like(&shown.ask);
        let mut circuits: Vec<&'static dyn Stage> =
            CATALOGUE.iter().filter(alike).copied().collect();
        circuits.reverse();
        Comparison {
            circuits,
            taken: shown.stage.id(),
            at: None,
        }
    }

    /// Whether every circuit has its row.
    pub fn is_done(&self) -> bool {
        self.circuits.is_empty() && self.at.is_none()
    }

    /// Works on the next row; gives it when it is done.
    pub fn advance(
        &mut self,
        design: &Design,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Option<OtherOutcome> {
        let ask = &design.stages[design.view.stage].ask;
        if self.at.is_none() {
            let stage = self.circuits.pop()?;
            let shown = &design.stages[design.view.stage];
            let (between, prefer) = (shown.between, shown.prefer);
            let model = Model::new(stage, ask, &design.op_amp)
                .ok()?
                .between(between);
            let search = Search::new(&model, &design.shelf, &BTreeMap::new(), prefer);
            self.at = Some(Row { model, search });
            return None;
        }
        let row = self.at.as_mut()?;
        if !row.search.advance(&row.model, go_on) {
            return None;
        }
        let Row { model, mut search } = self.at.take()?;
        Some(told(design, &model, &search.take(), self.taken))
    }
}

fn told(design: &Design, model: &Model, choices: &Choices, taken: &str) -> OtherOutcome {
    let stage = model.stage;
    let mut row = OtherOutcome {
        circuit: stage.id().to_owned(),
        title: stage.title().to_owned(),
        taken: stage.id() == taken,
        reach: None,
        parts: model.bought.iter().filter(|bought| **bought).count() as u32,
        op_amps: model.op_amps(),
        distinct: 0,
        points: f64::NAN,
        miss: f64::NAN,
        share: f64::NAN,
        boards: design.spread.boards.min(BOARDS),
        worst_depth_db: None,
        phase_deg: f64::NAN,
        gain_bandwidth: f64::NAN,
    };
    let rules = || stage.reach(&model.ask, &design.shelf, &design.op_amp);
    let Some(best) = choices.picks.first() else {
        row.reach = Some(refusal::told(model, choices, &rules()));
        return row;
    };
    if !best.rank.holds() {
        row.reach = Some(refusal::told(model, choices, &rules()));
    }
    let values = &best.values;
    row.distinct = best.rank.bother.distinct;
    let prefer = design.stages[design.view.stage].prefer;
    row.points = best.rank.bother.points(&Weights::of(prefer));
    row.miss = best.rank.miss;
    let h = model.transfer(values).at(design.view.phase_at) * f64::from(stage.sign());
    row.phase_deg = h.arg().to_degrees();
    row.gain_bandwidth = pick::least_gain_bandwidth(model, values).unwrap_or(f64::NAN);
    let run = boards(design, model, values);
    row.share = f64::from(run.passed()) / f64::from(run.drawn());
    let null = model
        .yardstick
        .figures()
        .iter()
        .position(|f| f.name == "ask-attenuation-db");
    row.worst_depth_db = null.map(|figure| {
        let readable: Vec<f64> = run
            .figure(figure)
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .collect();
        quantiles(&readable, [0.05])[0]
    });
    row
}

fn boards(design: &Design, model: &Model, values: &[f64]) -> SpreadRun {
    let reference = model.transfer(values);
    let stage = RunStage {
        model,
        nominal: model.figures(values, None, &mut Scratch::default()),
        reference: &reference,
    };
    let alone = StageDesign {
        strays: BTreeMap::new(),
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
    let mut run = SpreadRun::new(vec![stage], sampling, view);
    run.advance(&[model], &mut || true);
    run
}
