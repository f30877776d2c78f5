//! The spread of a stage: what goes into the run, and what is told of it.

use crate::circuit::Kind;
use crate::design::Design;
use crate::outcome::{FigureSpread, SpreadOutcome, StageOutcome, Yield};
use crate::response::log_grid;
use crate::spread::{Histogram, SpreadRun, Stray, clopper_pearson, quantiles};
use crate::stages::{Limit, Model};

/// Frequencies at which the band is drawn.
const POINTS: usize = 200;
const BINS: usize = 48;
const LEVEL: f64 = 0.95;

/// Starts a run round the picked values.
pub(super) fn prepare(design: &Design, model: &Model, stage: &StageOutcome) -> SpreadRun {
    let values = &stage.picks[stage.choice].values;
    let grid = &stage.curves.frequency;
    let frequencies = log_grid(grid[0], grid[grid.len() - 1], POINTS);
    let nominal: Vec<f64> = stage
        .figures
        .iter()
        .take(model.stage.figures().len())
        .map(|f| f.value)
        .collect();
    SpreadRun::new(
        model,
        strays(design, model, values),
        &design.spread,
        &nominal,
        frequencies,
        design.view.phase_at,
        &model.transfer(values),
    )
}

/// How far each part strays, from the bin that it is bought from.
pub(super) fn strays(design: &Design, model: &Model, values: &[f64]) -> Vec<Stray> {
    model
        .netlist
        .parts()
        .iter()
        .zip(values)
        .map(|(part, &nominal)| {
            let bin = match part.kind {
                Kind::Resistor { .. } => &design.shelf.resistors,
                Kind::Capacitor { .. } => &design.shelf.capacitors,
                Kind::OpAmp { .. } => {
                    return Stray {
                        nominal,
                        tolerance: 0.0,
                        tempco: 0.0,
                    };
                }
            };
            Stray {
                nominal,
                tolerance: bin.tolerance,
                tempco: bin.tempco,
            }
        })
        .collect()
}

/// One figure of a finished run.
pub(super) fn figure(
    run: &SpreadRun,
    stage: &StageOutcome,
    limits: &[Limit],
    index: usize,
) -> FigureSpread {
    let figure = &stage.figures[index];
    let boards = run.drawn();
    let values: Vec<f64> = run
        .figure(index)
        .iter()
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    // A tail of a few boards may not squeeze the rest into one bin.
    let [least, low, q05, median, q95, high, most] =
        quantiles(&values, [0.0, 0.001, 0.05, 0.5, 0.95, 0.999, 1.0]);
    let held = limits
        .iter()
        .position(|limit| limit.figure == index)
        .map(|at| f64::from(run.held()[at]) / f64::from(boards));
    FigureSpread {
        name: figure.name.clone(),
        label: figure.label.clone(),
        unit: figure.unit,
        quantiles: [q05, median, q95],
        least,
        most,
        histogram: Histogram::new(&values, low, high, BINS),
        lowest: figure.lowest,
        highest: figure.highest,
        held,
        unreadable: boards - values.len() as u32,
    }
}

/// A finished run with its figures.
pub(super) fn summarise(run: &SpreadRun, figures: Vec<FigureSpread>) -> SpreadOutcome {
    let (magnitude_db, phase_deg) = run.bands();
    let (passed, boards) = (run.passed(), run.drawn());
    let (low, high) = clopper_pearson(u64::from(passed), u64::from(boards), LEVEL);
    SpreadOutcome {
        boards,
        frequency: run.frequencies().to_vec(),
        magnitude_db,
        phase_deg,
        figures,
        share: Yield {
            passed,
            fraction: f64::from(passed) / f64::from(boards),
            low,
            high,
            level: LEVEL,
            method: "Clopper–Pearson".into(),
        },
    }
}
