//! The spine for scripts: text in, text out. Never panics on any text.

use num_complex::Complex64;
use serde::Serialize;
use serde_json::{Value, json};

use super::population::{drawn, population};
use super::stages::Line;
use super::{Step, Work, picks, solve};
use crate::design::{Design, InputError, check};
use crate::export::{What, export};
use crate::response::log_grid;
use crate::spread::{self, Boards, Draws, Rows};
use crate::stages::{CATALOGUE, Stage};

/// Solves a design given as JSON; `{}` is the demo. The answer is an outcome as JSON, or
/// `{"errors": [{"path", "message"}]}`.
///
/// ```
/// let answer = polewright::solve_json(r#"{"spread": {"boards": 100}}"#);
/// assert!(answer.contains("notch-frequency"));
/// assert!(polewright::solve_json("nonsense").starts_with(r#"{"errors""#));
/// ```
pub fn solve_json(design: &str) -> String {
    let design = Design::from_json(design).and_then(with_something_to_show);
    written(design.and_then(|design| solve(&design)))
}

/// A file of what is called `what` ([`What`]) in the outcome of a design given as JSON; a parts list for so many boards,
/// one or more. The answer is `{"name", "media_type", "text"}`.
///
/// ```
/// let answer = polewright::export_json("{}", "netlist", 1);
/// assert!(answer.contains("netlist.cir") && answer.contains(".SUBCKT"));
/// assert!(polewright::export_json("{}", "gerber", 1).contains("parts, netlist"));
/// ```
pub fn export_json(design: &str, what: &str, boards: u32) -> String {
    let refused = |path: &str, message: String| vec![InputError::new(path, message)];
    let file = || {
        let what: What = serde_json::from_value(Value::from(what)).map_err(|_| {
            let known = What::ALL.map(What::name);
            let known = known.join(", ");
            refused(
                "",
                format!("There is no “{what}” to export; accepted: {known}."),
            )
        })?;
        let design = Design::from_json(design).and_then(with_something_to_show)?;
        let outcome = solve(&design)?;
        export(&design, &outcome, what, boards).map_err(|sentence| refused("", sentence))
    };
    written(file())
}

/// The catalogue as JSON: `[{"circuit", "title", "family", "ask"}]`, each with the ask that it opens with.
pub fn catalogue_json() -> String {
    let stage = |stage: &&dyn Stage| {
        let ask = stage.default_ask();
        json!({ "circuit": stage.id(), "title": stage.title(), "family": ask.family(), "ask": ask })
    };
    written(Ok(CATALOGUE.iter().map(stage).collect::<Vec<_>>()))
}

/// Picks parts for the first stage of a design given as JSON and stops there; the answer is a list of
/// picks.
pub fn pick_json(design: &str) -> String {
    written(Design::from_json(design).and_then(|design| {
        check(&design)?;
        if design.stages.is_empty() {
            let message = "The path holds no stage to pick parts for; add one.";
            return Err(vec![InputError::new("/stages", message)]);
        }
        let picks = picks::choices(&design, 0)?.picks;
        Ok(picks
            .iter()
            .map(|p| json!({"values": p.values, "miss": p.rank.miss}))
            .collect::<Vec<_>>())
    }))
}

/// Least and largest |H| of the path over `boards` boards at `frequencies` frequencies round the ask, for a
/// design given as JSON: `{"frequency": […], "least": […], "most": […]}`.
pub fn extremes_json(design: &str, boards: u32, frequencies: u32) -> String {
    over_boards(design, boards, frequencies, |_, stages, grid| {
        let (least, most) = spread::extremes(stages, grid);
        json!({"frequency": grid, "least": least, "most": most})
    })
}

/// The bands of magnitude (dB) and phase (degrees) of the path over `boards` boards at `frequencies` frequencies
/// round the ask, for a design given as JSON: `{"frequency": […], "magnitude": …, "phase": …}`, each with the
/// extremes and quantiles of a [`spread::Band`].
pub fn bands_json(design: &str, boards: u32, frequencies: u32) -> String {
    over_boards(design, boards, frequencies, |lines, stages, grid| {
        let stages_of = lines.iter().map(|line| &line.found.transfers[2]);
        let nominal = |f: &f64| stages_of.clone().map(|stage| stage.at(*f)).product();
        let nominal: Vec<Complex64> = grid.iter().map(nominal).collect();
        let (magnitude, phase) = spread::bands(stages, grid, &nominal);
        json!({"frequency": grid, "magnitude": magnitude, "phase": phase})
    })
}

/// Picks the path's parts, draws boards, and has `read` tell what they do on a grid round the shown ask (Hz).
fn over_boards(
    design: &str,
    boards: u32,
    frequencies: u32,
    read: impl FnOnce(&[Line], &[Boards], &[f64]) -> Value,
) -> String {
    written(Design::from_json(design).and_then(|design| {
        let mut work = Work::begin(&design)?;
        while work.lines().is_none() && work.advance(&mut || true) != Step::Done {}
        let lines = work.lines().ok_or_else(|| work.errors())?;
        let Some(shown) = lines.get(design.view.stage) else {
            return Ok(json!(null));
        };
        let ends = shown.found.outcome.curves.as_ref().map(|curves| {
            let grid = &curves.frequency;
            (grid[0], grid[grid.len() - 1])
        });
        let (low, high) = ends.unwrap_or((1.0, 10.0));
        let grid = log_grid(low, high, frequencies.clamp(2, 100_000) as usize);
        let (numbers, stride) = boards_of(&design, lines, boards.clamp(1, 1_000_000));
        let mut first = 0;
        let stages = lines.iter().map(|line| {
            let program = &line.real.program;
            let rows = Rows {
                numbers: &numbers,
                stride,
                first,
            };
            first += program.inputs();
            Boards {
                program,
                scale: line.real.scale,
                rows,
            }
        });
        let stages: Vec<Boards> = stages.collect();
        Ok(read(lines, &stages, &grid))
    }))
}

/// All numbers of these boards, row after row, and how long a row is.
fn boards_of(design: &Design, lines: &[Line], boards: u32) -> (Vec<f64>, usize) {
    let population = population(design, &drawn(lines));
    let stride = population.variations.len();
    let draws = Draws::new(population, design.spread.seed);
    (draws.side_by_side(boards), stride)
}

/// A script that solves a path without a stage and without a plant has left something out.
fn with_something_to_show(design: Design) -> Result<Design, Vec<InputError>> {
    if design.stages.is_empty() && !design.servo.has_plant() {
        let message = "The path holds no stage and there is no plant, so that there is nothing to work out; add a stage, or a plant.";
        return Err(vec![InputError::new("/stages", message)]);
    }
    Ok(design)
}

fn written<T: Serialize>(answer: Result<T, Vec<InputError>>) -> String {
    let text = match answer {
        Ok(answer) => serde_json::to_string(&answer),
        Err(errors) => serde_json::to_string(&json!({ "errors": errors })),
    };
    text.unwrap_or_else(|error| {
        json!({"errors": [{"path": "", "message": error.to_string()}]}).to_string()
    })
}
