//! Two figures of the first boards against each other, with their limits as a box.

use super::plot::{Axis, Pen, Plot};
use super::ticks::linear_ticks;
use crate::numerics::put_in_order;
use crate::outcome::{FigureSpread, SpreadOutcome};
use crate::quantity::rounded;
use crate::spread::quantiles;

/// Figures by their place among all, those with limits first.
pub fn limited_first(spread: &SpreadOutcome) -> Vec<usize> {
    let mut order: Vec<usize> = (0..spread.figures.len()).collect();
    put_in_order(&mut order, |a, b| {
        let (a, b) = (&spread.figures[*a], &spread.figures[*b]);
        a.held.is_none().cmp(&b.held.is_none())
    });
    order
}

/// The two figures that are drawn where no others are chosen: the first two with limits, by their place among all.
pub fn first(spread: &SpreadOutcome) -> Option<(usize, usize)> {
    match limited_first(spread)[..] {
        [x, y, ..] => Some((x, y)),
        _ => None,
    }
}

/// What stands at the axes, in words.
pub fn note(spread: &SpreadOutcome, x: usize, y: usize) -> Option<String> {
    let label = |at: usize| Some(&spread.figures.get(at)?.label);
    Some(format!("“{}” over “{}”", label(y)?, label(x)?))
}

/// The chart of two figures, by their place among all: good boards as points, others as dots.
pub fn plot(spread: &SpreadOutcome, x: usize, y: usize) -> Option<Plot> {
    let sample = &spread.sample;
    let (xs, ys) = (sample.values.get(x)?, sample.values.get(y)?);
    let of_kind = |kind: bool| {
        let all = xs.iter().zip(ys).zip(&sample.good);
        all.filter(|(_, good)| **good == kind)
            .map(|((x, y), _)| (*x, *y))
            .collect::<Vec<_>>()
    };
    let (x, y) = (
        axis(spread.figures.get(x)?, xs)?,
        axis(spread.figures.get(y)?, ys)?,
    );
    let upright = |at: f64| (vec![(at, y.0.low), (at, y.0.high)], Pen::Guide);
    let level = |at: f64| (vec![(x.0.low, at), (x.0.high, at)], Pen::Guide);
    let lines = x.1.iter().copied().map(upright);
    let lines = lines.chain(y.1.iter().copied().map(level)).collect();
    Some(Plot {
        x: x.0,
        y: y.0,
        lines,
        points: of_kind(true),
        dots: of_kind(false),
        ..Plot::default()
    })
}

/// An axis that holds nearly all values and the limits that are not far off, and these limits.
fn axis(figure: &FigureSpread, values: &[f64]) -> Option<(Axis, Vec<f64>)> {
    let [mut low, mut high] = quantiles(values, [0.005, 0.995]);
    if low.is_nan() {
        return None;
    }
    let span = (high - low).max(1e-9 * high.abs()).max(f64::MIN_POSITIVE);
    let mut limits = Vec::new();
    for limit in [figure.lowest, figure.highest].into_iter().flatten() {
        if limit > low - 1.5 * span && limit < high + 1.5 * span {
            low = low.min(limit);
            high = high.max(limit);
            limits.push(limit);
        }
    }
    let room = 0.06 * (high - low).max(span);
    let (low, high) = (low - room, high + room);
    let unit = figure.unit;
    let ticks = linear_ticks(low, high, 5, &[1.0, 2.0, 2.5, 5.0], |v| rounded(v, unit, 4));
    Some((Axis { low, high, ticks }, limits))
}
