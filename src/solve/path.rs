//! The whole path: all stages in a row.

use super::at_once::AtOnce;
use super::buy;
use super::curves::{self, Row};
use super::loading::{self, Joined};
use super::stages::{Line, Stages};
use super::task::{Asked, Blocked, Seen};
use crate::outcome::{Outcome, PathOutcome};

/// All that the path's description reads.
#[derive(PartialEq)]
pub(super) struct PathReads {
    lines: Seen<Vec<Line>>,
    shown: usize,
    decades: f64,
}

/// Its description.
#[derive(Default)]
pub(super) struct Path {
    joined: Joined,
}

impl AtOnce for Path {
    const FIELD: &'static str = "path";
    type Reads = PathReads;
    type Finds = PathOutcome;

    fn reads(asked: &Asked) -> Result<Option<PathReads>, Blocked> {
        Ok(asked.found::<Stages>()?.map(|lines| PathReads {
            lines,
            shown: asked.design.view.stage,
            decades: asked.design.view.decades,
        }))
    }

    fn find(&mut self, reads: &PathReads) -> PathOutcome {
        describe(reads, &mut self.joined)
    }

    fn is_same(first: &PathOutcome, second: &PathOutcome) -> bool {
        first == second
    }

    fn tell(_: &PathReads, found: &PathOutcome, outcome: &mut Outcome) {
        outcome.path = Some(found.clone());
    }
}

fn describe(reads: &PathReads, joined: &mut Joined) -> PathOutcome {
    let lines: &[Line] = &reads.lines;
    let stages = || lines.iter().map(|line| &line.found.outcome);
    // On the shown stage's axis, so that both can be compared.
    let shown = lines.get(reads.shown);
    let curves = shown.and_then(|shown| shown.found.outcome.curves.as_ref());
    let curves = curves.filter(|_| lines.len() > 1);
    let curves = curves.map(|own| {
        let ends = (own.frequency[0], own.frequency[own.frequency.len() - 1]);
        let row = |k: usize| -> Row { lines.iter().map(|line| &line.found.transfers[k]).collect() };
        curves::draw(ends, [row(0), row(1), row(2)])
    });
    PathOutcome {
        sign: stages().map(|stage| stage.sign).product(),
        curves,
        loadings: loading::between(reads.decades, lines, joined),
        buy: buy::list(stages()),
        op_amps: stages().map(|stage| stage.op_amps).sum(),
    }
}
