//! The plant, measured and modelled, as it is drawn.

use num_complex::Complex64;

use crate::outcome::{PlantOutcome, Shape};
use crate::response::resolving_grid;
use crate::servo::{Fitted, Model, PlantUnits, Sweep, antiresonances, peaks};

/// Points a decade of the model's curve, before modes ask for more.
const PER_DECADE: f64 = 40.0;
/// A model without a sweep is drawn so far below its lowest corner and above its highest, as a ratio.
const BEYOND: f64 = 30.0;

pub(super) fn describe(
    sweep: Option<&Sweep>,
    model: Option<&Model>,
    fitted: Option<Fitted>,
    unfitted: Option<String>,
    units: &PlantUnits,
) -> PlantOutcome {
    let measured = sweep.map(|sweep| {
        let frequency = sweep.points.iter().map(|p| p.frequency).collect();
        let responses = sweep.points.iter().map(|p| p.response);
        shape(frequency, responses)
    });
    let range = sweep.map_or_else(|| model.map(range), ends);
    let modelled = model.zip(range).map(|(model, (low, high))| {
        let count = ((high / low).log10() * PER_DECADE) as usize + 2;
        let grid = resolving_grid(low, high, count, &model.poles());
        let responses: Vec<Complex64> = grid.iter().map(|f| model.at(*f)).collect();
        shape(grid, responses)
    });
    PlantOutcome {
        measured,
        modelled,
        model: model.cloned(),
        peaks: model.map(peaks).unwrap_or_default(),
        antiresonances: model
            .zip(range)
            .map(|(model, (low, high))| antiresonances(model, low, high))
            .unwrap_or_default(),
        fitted,
        unfitted,
        shaft_modes: Vec::new(),
        units: units.of_plant(),
    }
}

/// A response as it is drawn.
pub(super) fn shape(frequency: Vec<f64>, responses: impl IntoIterator<Item = Complex64>) -> Shape {
    let (magnitude_db, phase_deg) = responses
        .into_iter()
        .map(|h| (decibels(h.norm()), h.arg().to_degrees()))
        .unzip();
    Shape {
        frequency,
        magnitude_db,
        phase_deg,
    }
}

/// 20·lg of a ratio, and no less than −400 dB.
pub(super) fn decibels(ratio: f64) -> f64 {
    (20.0 * ratio.log10()).max(-400.0)
}

fn ends(sweep: &Sweep) -> Option<(f64, f64)> {
    Some((
        sweep.points.first()?.frequency,
        sweep.points.last()?.frequency,
    ))
}

fn range(model: &Model) -> (f64, f64) {
    let corners = model.modes.iter().map(|mode| mode.frequency);
    let corners = corners.chain(model.lag);
    let (low, high) = corners.fold((f64::INFINITY, 0.0f64), |(low, high), f| {
        (low.min(f), high.max(f))
    });
    if low > high {
        return (1.0, 100e3);
    }
    (low / BEYOND, high * BEYOND)
}
