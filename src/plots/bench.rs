//! A measured response over the predicted one, and over the band of boards where there is one.

use super::looped::{decibel_axis, degree_axis, frequency_axis, over};
use super::plot::{Pen, Plot};
use super::response::{Bands, Response};
use crate::design::Measured;
use crate::outcome::{BenchOutcome, Outcome, Shape, SpreadOutcome};

/// Magnitude or phase; none where nothing can be drawn of the measurement, or its phase was not measured. `boards` are those of what was measured.
pub fn bench(found: &BenchOutcome, boards: Option<&Bands>, of: Response) -> Option<Plot> {
    if of == Response::Phase && !found.has_phase {
        return None;
    }
    let values = |shape: &Shape| match of {
        Response::Phase => shape.phase_deg.clone(),
        _ => shape.magnitude_db.clone(),
    };
    let (measured, predicted) = (values(&found.measured), values(&found.predicted));
    let x = frequency_axis([&found.measured])?;
    let y = match of {
        Response::Phase => degree_axis(),
        _ => decibel_axis([&measured[..], &predicted[..]]),
    };
    Some(Plot {
        bands: boards.map_or_else(Vec::new, |boards| boards.stripes(of)),
        lines: vec![(over(&found.predicted.frequency, &predicted), Pen::Real)],
        points: over(&found.measured.frequency, &measured),
        x,
        y,
        ..Plot::default()
    })
}

/// The band of what was measured, where boards of it are drawn.
pub fn boards_of<'a>(found: &BenchOutcome, spread: Option<&'a SpreadOutcome>) -> Option<Bands<'a>> {
    let spread = spread?;
    match found.of {
        Measured::Stage => Some(Bands::of_stage(spread)),
        Measured::Path => Bands::of_path(spread).or_else(|| Some(Bands::of_stage(spread))),
        _ => None,
    }
}

/// The chart of an outcome.
pub(super) fn of_outcome(outcome: &Outcome, of: Response) -> Option<Plot> {
    let found = outcome.bench.as_ref()?;
    let boards = boards_of(found, outcome.spread.as_ref());
    bench(found, boards.as_ref(), of)
}
