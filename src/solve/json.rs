//! The spine for scripts: text in, text out. Never panics on any text.

use serde::Serialize;
use serde_json::json;

use super::{Progress, Work, solve};
use crate::design::{Design, InputError};
use crate::response::log_grid;
use crate::spread::{self, Draws, Stray};
use crate::stages::Model;

/// Solves a design given as JSON; `{}` is the demo. The answer is an outcome as JSON, or
/// `{"errors": [{"path", "message"}]}`.
///
/// ```
/// let answer = polewright::solve_json(r#"{"spread": {"boards": 100}}"#);
/// assert!(answer.contains("notch-frequency"));
/// assert!(polewright::solve_json("nonsense").starts_with(r#"{"errors""#));
/// ```
pub fn solve_json(design: &str) -> String {
    written(read(design).and_then(|design| solve(&design)))
}

/// Picks parts for the first stage of a design given as JSON and stops there; the answer is a list of
/// picks.
pub fn pick_json(design: &str) -> String {
    written(read(design).and_then(|design| {
        let work = Work::begin(&design)?;
        let line = &work.lines[0];
        let mut search = line.search(&design, 0)?;
        search.advance(&line.real, &mut || true);
        let picks = search.take().picks;
        Ok(picks
            .iter()
            .map(|p| json!({"values": p.values, "miss": p.rank.miss}))
            .collect::<Vec<_>>())
    }))
}

/// Least and largest |H| of the shown stage over `boards` boards at `frequencies` frequencies round the ask, for a
/// design given as JSON: `{"frequency": […], "least": […], "most": […]}`.
pub fn extremes_json(design: &str, boards: u32, frequencies: u32) -> String {
    written(read(design).and_then(|design| {
        let mut work = Work::begin(&design)?;
        while let Progress::Picking(_) = work.advance(&mut || true)? {}
        let shown = &work.lines[design.view.stage];
        let (Some(found), model) = (&shown.found, &shown.real) else {
            return Ok(json!(null));
        };
        let strays = super::spread::strays(&design, model, &found.values);
        let ends = found.outcome.curves.as_ref().map(|curves| {
            let grid = &curves.frequency;
            (grid[0], grid[grid.len() - 1])
        });
        let (low, high) = ends.unwrap_or((1.0, 10.0));
        let grid = log_grid(low, high, frequencies.clamp(2, 100_000) as usize);
        let inputs = board_inputs(&design, model, strays, boards.clamp(1, 1_000_000));
        let (least, most) = spread::extremes(&model.program, model.scale, &inputs, &grid);
        Ok(json!({"frequency": grid, "least": least, "most": most}))
    }))
}

fn board_inputs(design: &Design, model: &Model, strays: Vec<Stray>, boards: u32) -> Vec<Vec<f64>> {
    let mut draws = Draws::new(
        strays,
        design.spread.law,
        design.spread.temperature_span,
        design.spread.seed,
    );
    let mut values = vec![0.0; model.netlist.parts().len()];
    (0..u64::from(boards))
        .map(|board| {
            draws.board(board, &mut values);
            let mut inputs = Vec::new();
            model.inputs(&values, &mut inputs);
            inputs
        })
        .collect()
}

fn read(design: &str) -> Result<Design, Vec<InputError>> {
    let refuse = |why: String| vec![InputError::new("", format!("This is not a design: {why}."))];
    // An empty array would pass for a design whose every field is as by default.
    if design.trim_start().starts_with('[') {
        return Err(refuse("it is an array, and an object is expected".into()));
    }
    serde_json::from_str(design).map_err(|error| refuse(error.to_string()))
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
