//! One board of the spread over the band of most boards.

use super::plot::{Axis, Pen, Plot, Stripe};
use super::svg::Sign;
use super::ticks::{linear_ticks, log_ticks, minus};
use crate::outcome::{BoardOutcome, SpreadOutcome};
use crate::quantity::Unit;

/// What its pens mean.
pub const OF_BOARD: [(Sign, &str); 3] = [
    (Sign::Line(Pen::Asked), "median of all boards"),
    (Sign::Line(Pen::Real), "this board"),
    (Sign::Band, "5 to 95 % of all boards"),
];

/// The magnitude of one board.
pub fn of_board(board: &BoardOutcome, spread: &SpreadOutcome) -> Option<Plot> {
    let lg: Vec<f64> = spread.frequency.iter().map(|f| f.log10()).collect();
    let along = |values: &[f64]| {
        lg.iter()
            .copied()
            .zip(values.iter().copied())
            .collect::<Vec<_>>()
    };
    let band = &spread.magnitude_db;
    let all = board.magnitude_db.iter().chain(&band.q05).chain(&band.q95);
    let finite = all.copied().filter(|v| v.is_finite() && *v > -150.0);
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
        (l.min(v), h.max(v))
    });
    let (low, high) = (low - 3.0, high + 3.0);
    let (first, last) = (*lg.first()?, *lg.last()?);
    let points = lg.iter().zip(&band.q05).zip(&band.q95);
    Some(Plot {
        x: Axis {
            low: first,
            high: last,
            ticks: log_ticks(first, last, Unit::Hertz),
        },
        y: Axis {
            low,
            high,
            ticks: linear_ticks(low, high, 6, &[1.0, 2.0, 5.0], |v| {
                minus(format!("{v:.0} dB"))
            }),
        },
        bands: vec![Stripe {
            points: points.map(|((x, low), high)| (*x, *low, *high)).collect(),
            opacity: 0.2,
            pen: Pen::Real,
        }],
        lines: vec![
            (along(&band.median), Pen::Asked),
            (along(&board.magnitude_db), Pen::Real),
        ],
        ..Plot::default()
    })
}
