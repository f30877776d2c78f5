//! The spine for scripts: text in, text out. Never panics on any text.

use serde::Serialize;
use serde_json::json;

use super::{Progress, Work, pins, solve};
use crate::design::{Design, InputError};
use crate::pick::Search;
use crate::response::log_grid;
use crate::spread::{self, Draws, Stray};

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

/// Picks parts for a design given as JSON and stops there; the answer is a list of picks.
pub fn pick_json(design: &str) -> String {
    written(read(design).and_then(|design| {
        let work = Work::begin(&design)?;
        let mut search = Search::new(&work.real, &design.shelf, &pins(&design, &work.real)?);
        search.advance(&work.real, &mut || true);
        let picks = search.take().picks;
        Ok(picks
            .iter()
            .map(|p| json!({"values": p.values, "miss": p.rank.miss}))
            .collect::<Vec<_>>())
    }))
}

/// Least and largest |H| over `boards` boards at `frequencies` frequencies round the ask, for a
/// design given as JSON: `{"frequency": […], "least": […], "most": […]}`.
pub fn extremes_json(design: &str, boards: u32, frequencies: u32) -> String {
    written(read(design).and_then(|design| {
        let mut work = Work::begin(&design)?;
        while let Progress::Picking(_) = work.advance(&mut || true)? {}
        let stage = &work.outcome.stages[0];
        let values = &stage.picks[stage.choice].values;
        let strays = super::spread::strays(&design, &work.real, values);
        let grid = log_grid(
            stage.curves.frequency[0],
            *stage.curves.frequency.last().unwrap_or(&1.0),
            frequencies.clamp(2, 100_000) as usize,
        );
        let inputs = board_inputs(&design, &work, strays, boards.clamp(1, 1_000_000));
        let (least, most) = spread::extremes(&work.real.program, work.real.scale, &inputs, &grid);
        Ok(json!({"frequency": grid, "least": least, "most": most}))
    }))
}

fn board_inputs(design: &Design, work: &Work, strays: Vec<Stray>, boards: u32) -> Vec<Vec<f64>> {
    let mut draws = Draws::new(
        strays,
        design.spread.law,
        design.spread.temperature_span,
        design.spread.seed,
    );
    let mut values = vec![0.0; work.real.netlist.parts().len()];
    (0..u64::from(boards))
        .map(|board| {
            draws.board(board, &mut values);
            let mut inputs = Vec::new();
            work.real.inputs(&values, &mut inputs);
            inputs
        })
        .collect()
}

fn read(design: &str) -> Result<Design, Vec<InputError>> {
    serde_json::from_str(design).map_err(|error| {
        vec![InputError::new(
            "",
            format!("This is not a design: {error}."),
        )]
    })
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
