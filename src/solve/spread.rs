//! The spread of a stage: what goes into the run, and what is told of it.

use super::line::Line;
use super::population::{drawn, population};
use super::slow_bands::Slow;
use crate::design::{Design, Stop};
use crate::outcome::{FigureSpread, PathSpread, Sample, SpreadOutcome, Yield};
use crate::response::log_grid;
use crate::spread::{
    BAND_BOARDS, Population, RunStage, RunView, Sampling, SpreadRun, StopRule, clopper_pearson,
};

/// Frequencies at which the band is drawn.
const POINTS: usize = 200;
pub(super) const BINS: usize = 48;
const LEVEL: f64 = 0.95;
/// Boards that are told one by one, and bad ones that are named.
const SAMPLE: usize = 1000;
const BAD: usize = 200;

/// Starts a run round the picked values of lines that are all described.
pub(super) fn prepare(design: &Design, lines: &[Line]) -> SpreadRun {
    let stages: Vec<RunStage> = lines
        .iter()
        .filter_map(|line| {
            let found = line.found.as_ref()?;
            Some(RunStage {
                model: &line.real,
                nominal: found.figures.clone(),
                reference: &found.transfers[2],
            })
        })
        .collect();
    let shown = lines[design.view.stage].found.as_ref();
    let grid = shown
        .and_then(|found| found.outcome.curves.as_ref())
        .map_or(&[1.0, 10.0][..], |curves| &curves.frequency);
    let view = RunView {
        stage: design.view.stage,
        frequencies: log_grid(grid[0], grid[grid.len() - 1], POINTS),
        phase_at: design.view.phase_at,
    };
    SpreadRun::new(
        stages,
        sampling(design, population(design, &drawn(lines))),
        view,
    )
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
