//! Fewer points out of a dense sweep.

use std::collections::BinaryHeap;
use std::ops::Range;

use num_complex::Complex64;

use super::bounds::WEIGHTS;
use super::run::Run;
use super::{Point, Sweep};
use crate::numerics::put_in_order;

/// What a run's width counts beside its misfit, both squared: a run of 2 % in frequency as much as a misfit
/// of 0.1 %. It spreads the points that resonances do not need, and keeps noise from having its way.
const WIDTH: f64 = 2.5e-3;

/// Rows whose median tells the noise: many, so that the few of a resonance do not.
pub(super) const BLOCK: usize = 64;

impl Sweep {
    /// At most `max` points (0 is taken as 1): averages over runs of neighbouring rows, each at the run's
    /// mean frequency. A sweep of no more points stays as it is.
    ///
    /// Beginning with one run of all rows, the run that strays most is halved until there are `max`. What
    /// counts is the mean square misfit of the straight line over frequency fitted to its responses, less the
    /// noise, relative to their geometric mean: a straight line is averaged without error.
    pub fn thinned(&self, max: usize) -> Sweep {
        let max = max.max(1);
        if self.points.len() <= max {
            return self.clone();
        }
        let rows = Rows::new(&self.points);
        let mut heap = BinaryHeap::with_capacity(max + 1);
        heap.push(rows.run(0, self.points.len()));
        while heap.len() < max {
            // There are more rows than runs: one at least has two.
            let Some(widest) = heap.pop() else { break };
            let Range { start, end } = widest.rows;
            let middle = start.midpoint(end);
            heap.push(rows.run(start, middle));
            heap.push(rows.run(middle, end));
        }
        let mut runs: Vec<Range<usize>> = heap.into_iter().map(|run| run.rows).collect();
        put_in_order(&mut runs, |a, b| a.start.cmp(&b.start));
        Sweep {
            points: runs
                .iter()
                .map(|run| mean(&self.points[run.clone()]))
                .collect(),
        }
    }
}

/// The rows with what every run asks of them.
struct Rows<'a> {
    points: &'a [Point],
    /// ln|z|² of each row.
    logs: Vec<f64>,
    /// Mean square of the noise relative to |z|², for each block of rows.
    noise: Vec<f64>,
}

impl Rows<'_> {
    fn new(points: &[Point]) -> Rows<'_> {
        let logs = points
            .iter()
            .map(|point| point.response.norm_sqr().ln())
            .collect();
        let noise = noise_of_blocks(points);
        Rows {
            points,
            logs,
            noise,
        }
    }

    fn run(&self, start: usize, end: usize) -> Run {
        let rows = &self.points[start..end];
        if rows.len() < 2 {
            return Run {
                rows: start..end,
                variations: -1.0,
            };
        }
        let count = rows.len() as f64;
        let width = (rows[rows.len() - 1].frequency / rows[0].frequency).ln();
        let blocks = &self.noise[start / BLOCK..=(end - 1) / BLOCK];
        let noise = blocks.iter().sum::<f64>() / blocks.len() as f64;
        let square = self.logs[start..end].iter().sum::<f64>() / count;
        let misfit = misfit(rows) / square.exp() / (count - 2.0).max(1.0) - noise;
        let variations = WIDTH * width * width + if misfit > 0.0 { misfit } else { 0.0 };
        Run {
            rows: start..end,
            variations,
        }
    }
}

/// Mean square of the noise relative to the magnitude's square, for each block of rows; 0 where there are too few.
pub(super) fn noise_of_blocks(points: &[Point]) -> Vec<f64> {
    // Each row against the straight line through its neighbours.
    let variations: Vec<f64> = points
        .windows(3)
        .map(|w| off_line(w[0], w[1], w[2]))
        .collect();
    let mut block = Vec::with_capacity(BLOCK);
    (0..points.len().div_ceil(BLOCK))
        .map(|at| {
            // The last block is as long as the others.
            let start = (at * BLOCK).min(variations.len().saturating_sub(BLOCK));
            block.clear();
            block.extend(variations.iter().skip(start).take(BLOCK));
            if block.len() < BLOCK {
                return 0.0;
            }
            // The square of complex noise has its median at ln 2 of its mean.
            *block.select_nth_unstable_by(BLOCK / 2, f64::total_cmp).1 / std::f64::consts::LN_2
        })
        .collect()
}

/// The square distance of the middle point from the line through the others, as a noise that all three have
/// alike, relative to the middle one's square.
pub(super) fn off_line(a: Point, b: Point, c: Point) -> f64 {
    let part = (b.frequency - a.frequency) / (c.frequency - a.frequency);
    let off = b.response - (a.response * (1.0 - part) + c.response * part);
    off.norm_sqr() / (1.0 + part * part + (1.0 - part) * (1.0 - part)) / b.response.norm_sqr()
}

/// Sum of squares around the straight line over frequency that fits best.
pub(super) fn misfit(rows: &[Point]) -> f64 {
    let middle = rows[rows.len() / 2];
    let count = rows.len() as f64;
    // From the middle row on, so that sums do not cancel.
    let (mut x, mut xx, mut zz) = (0.0, 0.0, 0.0);
    let (mut z, mut xz) = (Complex64::ZERO, Complex64::ZERO);
    for row in rows {
        let (df, dz) = (
            row.frequency - middle.frequency,
            row.response - middle.response,
        );
        x += df;
        xx += df * df;
        zz += dz.norm_sqr();
        z += dz;
        xz += dz * df;
    }
    let along = xz - z * (x / count);
    let spread = xx - x * x / count;
    zz - z.norm_sqr() / count
        - if spread > 0.0 {
            along.norm_sqr() / spread
        } else {
            0.0
        }
}

/// The mean of a run that is not empty, each row by its weight.
fn mean(rows: &[Point]) -> Point {
    match rows {
        [row] => *row,
        _ => Point {
            frequency: mean_frequency(rows),
            response: rows
                .iter()
                .map(|row| row.response * row.weight)
                .sum::<Complex64>()
                / weight(rows),
            weight: weight(rows).min(*WEIGHTS.end()),
        },
    }
}

/// What the rows of a run weigh together.
pub(super) fn weight(rows: &[Point]) -> f64 {
    rows.iter().map(|row| row.weight).sum()
}

/// The mean frequency of a run that is not empty, each row by its weight. It lies within the run, so that means are in
/// order.
pub(super) fn mean_frequency(rows: &[Point]) -> f64 {
    let (first, last) = (rows[0].frequency, rows[rows.len() - 1].frequency);
    let offset = rows.iter().map(|row| row.weight * (row.frequency - first));
    (first + offset.sum::<f64>() / weight(rows))
        .max(first)
        .min(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_averaged_without_error() {
        let line = |f: f64| Complex64::new(1.0 + f, 2.0 - 3.0 * f);
        let points = (1..=1000).map(|k| Point::new(f64::from(k), line(f64::from(k))));
        let thin = Sweep {
            points: points.collect(),
        }
        .thinned(40);
        assert_eq!(thin.points.len(), 40);
        for point in &thin.points {
            assert!((point.response - line(point.frequency)).norm() < 1e-9 * point.frequency);
        }
    }

    #[test]
    fn nothing_is_left_of_nothing() {
        assert_eq!(Sweep::default().thinned(0), Sweep::default());
    }
}
