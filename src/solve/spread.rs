//! The spread of a stage: what goes into the run, and what is told of it.

use std::sync::Arc;
use std::task::Poll;

use super::Piece;
use super::plan::{PathPlan, Plan, PlannedStage, StageOf};
use super::population::{drawn, population};
use super::slow_bands::{Slow, SlowBands};
use super::stages::{Line, Stages};
use super::summing::Summing;
use super::task::{Asked, Before, Blocked, Seen, Task, Turn};
use crate::design::{Design, InputError, SpreadDesign, StageDesign, Stop, View};
use crate::outcome::{FigureSpread, Outcome, PathSpread, Sample, SpreadOutcome, Yield};
use crate::response::log_grid;
use crate::spread::{
    BAND_BOARDS, Errand, Hand, Population, RunView, Sampling, SpreadRun, StopRule, clopper_pearson,
};
use crate::stages::Model;

/// Frequencies at which the band is drawn.
const POINTS: usize = 200;
const LEVEL: f64 = 0.95;
/// Boards that are told one by one, and bad ones that are named.
const SAMPLE: usize = 1000;
const BAD: usize = 200;

/// What drawing boards of the path reads.
#[derive(Clone, PartialEq)]
pub(super) struct BoardsOf {
    pub lines: Seen<Vec<Line>>,
    /// Its stages, shelf, spread and shown stage; all else is blank, the op amp too, which the lines have.
    pub design: Design,
}

impl BoardsOf {
    /// None where the path is empty.
    ///
    /// # Errors
    /// Where a stage failed.
    pub fn reads(asked: &Asked) -> Result<Option<BoardsOf>, Blocked> {
        let lines = asked.found::<Stages>()?.filter(|lines| !lines.is_empty());
        Ok(lines.map(|lines| BoardsOf {
            lines,
            design: boards_design(asked.design),
        }))
    }

    /// The shown stage.
    pub fn shown(&self) -> &Line {
        &self.lines[self.design.view.stage]
    }

    /// The path's stages ready to run.
    pub fn models(&self) -> Vec<&Model> {
        self.lines.iter().map(|line| &line.real).collect()
    }

    /// A run round the picked values.
    fn run(&self) -> SpreadRun {
        self.plan().run(&self.models())
    }

    /// All that the run hangs on.
    fn plan(&self) -> PathPlan {
        let (design, lines) = (&self.design, &self.lines);
        let stages = lines.iter().map(|line| PlannedStage {
            of: StageOf::new(&line.real),
            nominal: line.found.figures.clone(),
            reference: line.found.transfers[2].clone(),
        });
        let shown = lines.get(design.view.stage);
        let grid = shown
            .and_then(|line| line.found.outcome.curves.as_ref())
            .map_or(&[1.0, 10.0][..], |curves| &curves.frequency);
        PathPlan {
            stages: stages.collect(),
            sampling: sampling(design, population(design, &drawn(lines))),
            view: RunView {
                stage: design.view.stage,
                frequencies: log_grid(grid[0], grid[grid.len() - 1], POINTS),
                phase_at: design.view.phase_at,
            },
        }
    }
}

/// What of a design says how boards stray and which stage is looked at; all else is blank.
pub(super) fn boards_design(design: &Design) -> Design {
    let blank = Design::blank();
    Design {
        stages: design
            .stages
            .iter()
            .map(StageDesign::without_bench)
            .collect(),
        shelf: design.shelf.clone(),
        spread: SpreadDesign {
            wanted: blank.spread.wanted,
            trimmed: blank.spread.trimmed,
            ..design.spread.clone()
        },
        view: View {
            stage: design.view.stage,
            phase_at: design.view.phase_at,
            ..blank.view.clone()
        },
        ..blank
    }
}

/// Boards of the path, drawn and read.
pub(super) struct Boards {
    /// None once it was handed over.
    run: Option<Box<SpreadRun>>,
    /// What others were told of it.
    plan: Option<Arc<Plan>>,
}

impl Task for Boards {
    const FIELD: &'static str = "boards";
    type Reads = BoardsOf;
    type Finds = SpreadRun;

    fn reads(asked: &Asked) -> Result<Option<BoardsOf>, Blocked> {
        BoardsOf::reads(asked)
    }

    fn begin(of: &BoardsOf, _: Option<Before<Boards>>) -> Result<Boards, Vec<InputError>> {
        Ok(Boards {
            run: Some(Box::new(of.run())),
            plan: None,
        })
    }

    fn advance(&mut self, of: &BoardsOf, go_on: &mut dyn FnMut() -> bool) -> Turn<SpreadRun> {
        let mut run = self.run.take().unwrap_or_else(|| Box::new(of.run()));
        if run.advance(&of.models(), go_on).is_ready() {
            return Turn::Found(*run);
        }
        let share = f64::from(run.drawn()) / f64::from(of.design.spread.boards);
        let is_waiting = run.is_waiting();
        self.run = Some(run);
        match is_waiting {
            true => Turn::Waiting(share),
            false => Turn::More(share),
        }
    }

    fn so_far(&self) -> Option<(u32, u32)> {
        let run = self.run.as_ref()?;
        Some((run.drawn(), run.passed_by(run.view().stage)))
    }

    fn plan(&mut self, of: &BoardsOf) -> Option<Arc<Plan>> {
        self.run.as_ref().filter(|run| run.is_long())?;
        let plan = || Arc::new(Plan::Path(of.plan()));
        Some(Arc::clone(self.plan.get_or_insert_with(plan)))
    }

    fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        self.run.as_mut()?.lend(to, workers)
    }

    fn give_back(&mut self, from: Hand, piece: Piece) {
        match (&mut self.run, piece) {
            (Some(run), Piece::Path(boards, batch)) => run.give_back(from, boards, batch),
            (Some(run), Piece::Counts(counts)) => run.hand_in(from, &counts),
            _ => {}
        }
    }

    fn keep(&mut self, there: &[Hand]) {
        if let Some(run) = &mut self.run {
            run.keep(there);
        }
    }
}

/// What telling the spread reads.
#[derive(PartialEq)]
pub(super) struct SpreadReads {
    run: Seen<SpreadRun>,
    pub of: BoardsOf,
}

/// Figures, then the bands that are worked out board by board.
pub(super) struct Spread {
    summing: Summing,
    figures: Option<Vec<FigureSpread>>,
    slow: Option<Box<SlowBands>>,
}

impl Task for Spread {
    const FIELD: &'static str = "spread";
    type Reads = SpreadReads;
    type Finds = SpreadOutcome;

    fn reads(asked: &Asked) -> Result<Option<SpreadReads>, Blocked> {
        let run = asked.found::<Boards>()?;
        let of = BoardsOf::reads(asked)?;
        Ok(run.zip(of).map(|(run, of)| SpreadReads { run, of }))
    }

    fn begin(reads: &SpreadReads, _: Option<Before<Spread>>) -> Result<Spread, Vec<InputError>> {
        let grid = &reads.run.view().frequencies;
        Ok(Spread {
            summing: Summing::new(),
            figures: None,
            slow: SlowBands::new(&reads.of.design, &reads.of.lines, grid).map(Box::new),
        })
    }

    fn advance(
        &mut self,
        reads: &SpreadReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<SpreadOutcome> {
        let SpreadReads { run, of } = reads;
        if self.figures.is_none() {
            let figures = &of.shown().found.outcome.figures;
            if let Poll::Ready(figures) = self.summing.advance(run, figures, go_on) {
                self.figures = Some(figures);
            }
            return Turn::More(0.0);
        }
        if let Some(slow) = &mut self.slow
            && slow.advance(&of.design, &of.lines, go_on).is_pending()
        {
            return Turn::More(0.5);
        }
        let slow = self.slow.take().map(|slow| slow.into_told());
        let figures = self.figures.take().unwrap_or_default();
        Turn::Found(summarise(run, figures, slow))
    }

    fn tell(_: &SpreadReads, found: &SpreadOutcome, outcome: &mut Outcome) {
        outcome.spread = Some(found.clone());
    }
}

/// What is drawn of a design, as many boards as it says.
pub(super) fn sampling(design: &Design, population: Population) -> Sampling {
    let spread = &design.spread;
    Sampling {
        population,
        seed: spread.seed,
        boards: spread.boards,
        stop: (spread.stop == Stop::Stable)
            .then(|| StopRule::told(spread.digits, spread.yield_within)),
    }
}

/// A finished run with its figures.
pub(super) fn summarise(
    run: &SpreadRun,
    figures: Vec<FigureSpread>,
    slow: Option<Slow>,
) -> SpreadOutcome {
    let (slow, slow_path) = slow.map_or((None, None), |(stage, path)| (Some(stage), path));
    let (magnitude_db, phase_deg) = run.bands();
    let boards = run.drawn();
    let path = run
        .path_bands()
        .map(|(magnitude_db, phase_deg)| PathSpread {
            magnitude_db,
            phase_deg,
            slow: slow_path,
            share: share(run.passed(), boards),
            stages: (0..run.stages())
                .map(|stage| f64::from(run.passed_by(stage)) / f64::from(boards))
                .collect(),
        });
    let told = run.missed().iter().take(SAMPLE);
    let bad = (run.missed().iter().enumerate()).filter(|(_, missed)| **missed != 0);
    SpreadOutcome {
        boards,
        stable: run.is_stable(),
        band_boards: boards.min(BAND_BOARDS),
        sample: Sample {
            good: told.map(|missed| *missed == 0).collect(),
            values: (0..figures.len())
                .map(|figure| run.figure(figure).iter().copied().take(SAMPLE).collect())
                .collect(),
        },
        bad: bad.map(|(number, _)| number as u32).take(BAD).collect(),
        frequency: run.view().frequencies.clone(),
        magnitude_db,
        phase_deg,
        slow,
        figures,
        share: share(run.passed_by(run.view().stage), boards),
        path,
    }
}

/// A share of boards with its interval.
pub(super) fn share(passed: u32, boards: u32) -> Yield {
    let (low, high) = clopper_pearson(u64::from(passed), u64::from(boards), LEVEL);
    Yield {
        passed,
        fraction: f64::from(passed) / f64::from(boards),
        low,
        high,
        level: LEVEL,
        method: "Clopper–Pearson".into(),
    }
}
