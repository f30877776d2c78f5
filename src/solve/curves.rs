//! The curves of a stage or of a path: the ask, the bought parts with an ideal op amp, and with the
//! real one.

use crate::outcome::{Curve, Curves};
use crate::response::{Transfer, resolving_grid, step_response};

/// Points of the even grid over two decades; more stand where curves bend.
const POINTS: usize = 181;
/// Samples of the answer to a step.
const SAMPLES: usize = 241;

/// Stages in a row, whose responses multiply.
pub(super) type Row<'a> = Vec<&'a Transfer>;

/// Draws the three curves on common axes from `low` to `high` (Hz).
pub(super) fn draw((low, high): (f64, f64), rows: [Row; 3]) -> Curves {
    let frequency = grid((low, high), &rows);
    let span = step_span(&rows[0], (low * high).sqrt());
    let dt = span / (SAMPLES - 1) as f64;
    let [ask, ideal, real] = rows.map(|row| curve(&row, &frequency, dt));
    Curves {
        time: (0..SAMPLES).map(|k| k as f64 * dt).collect(),
        frequency,
        ask,
        ideal,
        real,
    }
}

/// The same without group delay and step: magnitude and phase alone.
pub(super) fn response(ends: (f64, f64), rows: [Row; 3]) -> Curves {
    let frequency = grid(ends, &rows);
    let [ask, ideal, real] = rows.map(|row| answer(&row, &frequency));
    Curves {
        time: Vec::new(),
        frequency,
        ask,
        ideal,
        real,
    }
}

/// Frequencies that resolve what bends.
fn grid((low, high): (f64, f64), rows: &[Row; 3]) -> Vec<f64> {
    let roots: Vec<_> = rows
        .iter()
        .flatten()
        .flat_map(|transfer| transfer.zeros().into_iter().chain(transfer.poles()))
        .collect();
    let points = (POINTS as f64 * ((high / low).log10() / 2.0).clamp(1.0, 2.5)) as usize;
    resolving_grid(low, high, points, &roots)
}

fn curve(row: &Row, frequency: &[f64], dt: f64) -> Curve {
    let delay = |f: &f64| row.iter().map(|transfer| transfer.group_delay(*f)).sum();
    Curve {
        delay: frequency.iter().map(delay).collect(),
        step: step_response(row, dt, SAMPLES),
        ..answer(row, frequency)
    }
}

/// Magnitude and phase.
fn answer(row: &Row, frequency: &[f64]) -> Curve {
    let decibels = |f: &f64| {
        let each = row.iter().map(|transfer| transfer.magnitude_db(*f));
        each.map(|level| level.max(-400.0)).sum()
    };
    let degrees = |f: &f64| {
        let h: num_complex::Complex64 = row.iter().map(|transfer| transfer.at(*f)).product();
        h.arg().to_degrees()
    };
    Curve {
        magnitude_db: frequency.iter().map(decibels).collect(),
        phase_deg: frequency.iter().map(degrees).collect(),
        ..Curve::default()
    }
}

/// Long enough for the slowest pole to settle within half a per cent, within reason.
fn step_span(row: &Row, centre: f64) -> f64 {
    let slowest = row
        .iter()
        .flat_map(|transfer| transfer.poles())
        .map(|p| p.re.abs())
        .fold(f64::INFINITY, f64::min);
    let span = 5.3 / slowest;
    if span.is_finite() {
        span.min(1000.0 / centre)
    } else {
        10.0 / centre
    }
}
