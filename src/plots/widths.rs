//! The yield against the width of a figure's limits.

use super::plot::{Axis, Pen, Plot};
use super::ticks::linear_ticks;
use crate::outcome::{FigureSpread, SpreadOutcome};

/// Figures whose limits can be widened, by their place among all.
pub fn limited(spread: &SpreadOutcome) -> Vec<usize> {
    let all = spread.figures.iter().enumerate();
    all.filter(|(_, figure)| figure.widths.is_some())
        .map(|(at, _)| at)
        .collect()
}

/// The first figure whose limits can be widened.
pub fn first(spread: &SpreadOutcome) -> Option<&FigureSpread> {
    spread.figures.iter().find(|figure| figure.widths.is_some())
}

/// What the chart is of, in words.
pub fn note(figure: &FigureSpread) -> String {
    format!(
        "of the limits of “{}”, all others as they are",
        figure.label
    )
}

/// The chart; none for a figure without limits.
pub fn plot(figure: &FigureSpread) -> Option<Plot> {
    let widths = figure.widths.as_ref()?;
    let last = *widths.width.last()?;
    let curve = widths
        .width
        .iter()
        .copied()
        .zip(widths.share.iter().copied());
    Some(Plot {
        x: Axis {
            low: 0.0,
            high: last,
            ticks: linear_ticks(0.0, last, 6, &[1.0, 2.0, 5.0], |v| format!("{v} ×")),
        },
        y: Axis {
            low: 0.0,
            high: 1.02,
            ticks: linear_ticks(0.0, 1.0, 5, &[1.0, 2.0, 2.5, 5.0], |v| {
                format!("{:.0} %", v * 100.0)
            }),
        },
        lines: vec![
            (vec![(1.0, 0.0), (1.0, 1.02)], Pen::Guide),
            (curve.collect(), Pen::Real),
        ],
        ..Plot::default()
    })
}
