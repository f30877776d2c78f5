//! One board of the spread, built again to be looked at.

use super::population::{drawn, number_label, population};
use super::stages::Line;
use crate::design::Design;
use crate::outcome::{BoardOutcome, BoardPart, SpreadOutcome};
use crate::spread::{Draws, Reader, Rows, VariationKind};
use crate::stages::Model;

/// The board with this number (from 0) and its shown stage.
pub(super) fn build(
    design: &Design,
    lines: &[Line],
    spread: &SpreadOutcome,
    number: u32,
) -> Option<BoardOutcome> {
    let shown = lines.get(design.view.stage)?;
    let found = &shown.found;
    let models: Vec<&Model> = lines.iter().map(|line| &line.real).collect();
    let mut draws = Draws::new(population(design, &drawn(lines)), design.spread.seed);
    let variations = draws.population().variations.clone();
    let mut values = vec![0.0; variations.len()];
    draws.board(u64::from(number), &mut values);
    let before = models[..design.view.stage].iter();
    let first: usize = before.map(|model| model.program.inputs()).sum();
    let own = first..first + shown.real.program.inputs();
    let parts = own
        .clone()
        .filter(|&at| variations[at].kind != VariationKind::Fixed);
    let parts = parts.filter_map(|at| {
        let (label, unit, of) = number_label(&models, at)?;
        Some(BoardPart {
            label,
            unit,
            value: of(values[at]),
            marked: of(variations[at].nominal),
        })
    });
    let rows = Rows {
        numbers: &values,
        stride: values.len(),
        first,
    };
    let mut figures = Vec::new();
    Reader::new(&shown.real).each(&shown.real, rows, &found.figures, |_, read| {
        figures = read.to_vec();
    });
    let response = (shown.real.program).transfer(&values[own], shown.real.scale);
    let limits = shown.real.yardstick.figures().iter();
    Some(BoardOutcome {
        number,
        parts: parts.collect(),
        holds: limits
            .zip(&figures)
            .map(|(figure, value)| figure.keeps(*value))
            .collect(),
        figures,
        magnitude_db: (spread.frequency.iter())
            .map(|&f| response.magnitude_db(f))
            .collect(),
        phase_deg: (spread.frequency.iter())
            .map(|&f| response.phase_deg(f))
            .collect(),
    })
}
