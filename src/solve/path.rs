//! The whole path: all stages in a row.

use super::buy;
use super::curves::{self, Row};
use super::line::{Found, Line};
use super::loading;
use crate::design::Design;
use crate::outcome::PathOutcome;

/// Describes the path of lines that are all described.
pub(super) fn describe(design: &Design, lines: &mut [Line]) -> PathOutcome {
    let loadings = loading::between(design, lines);
    let found: Vec<&Found> = lines
        .iter()
        .filter_map(|line| line.found.as_ref())
        .collect();
    // On the shown stage's axis, so that both can be compared.
    let shown = found.get(design.view.stage);
    let curves = shown.and_then(|shown| shown.outcome.curves.as_ref());
    let curves = curves.filter(|_| found.len() > 1);
    let curves = curves.map(|own| {
        let ends = (own.frequency[0], own.frequency[own.frequency.len() - 1]);
        let row = |k: usize| -> Row { found.iter().map(|found| &found.transfers[k]).collect() };
        curves::draw(ends, [row(0), row(1), row(2)])
    });
    PathOutcome {
        sign: found.iter().map(|found| found.outcome.sign).product(),
        curves,
        loadings,
        buy: buy::list(found.iter().map(|found| &found.outcome)),
        op_amps: found.iter().map(|found| found.outcome.op_amps).sum(),
    }
}
