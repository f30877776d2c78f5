//! Many rows brought to few that say the same about a model.
//!
//! A run of neighbouring rows is replaced by one point: the model's answer at their mean frequency, times the mean of
//! measured over model. The model takes the curvature out, so that averaging a resonance's flank is not an error; what
//! is averaged is noise. A run is short against every pole and zero, so that what the rows say about each of the model's
//! numbers is kept too, and it is halved where measured over model is no straight line, so that what the model lacks is
//! kept as well.

use std::collections::BinaryHeap;
use std::ops::Range;

use num_complex::Complex64;

use super::bounds::WEIGHTS;
use super::run::Run;
use super::thin::{BLOCK, mean_frequency, misfit, noise_of_blocks, off_line, weight};
use super::{Point, Sweep};
use crate::numerics::put_in_order;
use crate::plant::{Model, antiresonances};

/// A run's width against the distance to a pole or zero, and against its frequency. At 0.3 a run keeps 99 % of what its
/// rows say.
const AGAINST_ROOTS: f64 = 0.3;
const AGAINST_FREQUENCY: f64 = 0.06;
/// A row so many deviations off the line through its neighbours stays by itself.
const ALONE: f64 = 7.0;
/// A run is halved when its misfit is above the noise by so many of the misfit's own deviations.
const STRAYING: f64 = 4.0;
/// Runs at most, as long as they do not stray: else as many as it takes.
const MOST: usize = 4000;

/// Runs of rows that may be averaged round a model, in ascending order; together they are all rows. `width`, 1 or less,
/// makes them shorter.
pub(in crate::plant) fn runs(points: &[Point], model: &Model, width: f64) -> Vec<Range<usize>> {
    let Some((first, last)) = points.first().zip(points.last()) else {
        return Vec::new();
    };
    let ratios: Vec<Point> = points.iter().map(|point| over(point, model)).collect();
    let noise = noise_of_blocks(&ratios);
    let noise_at = |i: usize| noise[(i / BLOCK).min(noise.len() - 1)];
    let alone: Vec<bool> = (0..points.len())
        .map(|i| match ratios.get(i.wrapping_sub(1)..i + 2) {
            Some(&[a, b, c]) => off_line(a, b, c) > ALONE * ALONE * noise_at(i),
            _ => false,
        })
        .collect();
    let roots = roots(model, first.frequency, last.frequency);
    let mut heap = BinaryHeap::new();
    let mut start = 0;
    while start < points.len() {
        let width = width * widest(points[start].frequency, &roots);
        let begin = points[start].frequency;
        let mut end = start + 1;
        while end < points.len()
            && !alone[start]
            && !alone[end]
            && points[end].frequency - begin <= width
        {
            end += 1;
        }
        heap.push(straying(&ratios, start..end, noise_at(start.midpoint(end))));
        start = end;
    }
    while heap.len() < MOST {
        match heap.pop() {
            Some(run) if run.variations > 0.0 => {
                let Range { start, end } = run.rows;
                let middle = start.midpoint(end);
                for half in [start..middle, middle..end] {
                    let noise = noise_at(half.start.midpoint(half.end));
                    heap.push(straying(&ratios, half, noise));
                }
            }
            Some(run) => {
                heap.push(run);
                break;
            }
            None => break,
        }
    }
    let mut runs: Vec<Range<usize>> = heap.into_iter().map(|run| run.rows).collect();
    put_in_order(&mut runs, |a, b| a.start.cmp(&b.start));
    runs
}

/// One point for each run.
pub(in crate::plant) fn averaged(
    points: &[Point],
    runs: &[Range<usize>],
    model: &Model,
) -> Vec<Point> {
    let one = |run: &Range<usize>| match &points[run.clone()] {
        [point] => *point,
        rows => {
            let weight = weight(rows);
            let mean: Complex64 = rows
                .iter()
                .map(|row| over(row, model).response * row.weight)
                .sum();
            let frequency = mean_frequency(rows);
            Point {
                frequency,
                response: model.at(frequency) * mean / weight,
                weight: weight.min(*WEIGHTS.end()),
            }
        }
    };
    runs.iter().map(one).collect()
}

impl Sweep {
    /// Fewer points that say the same about a model, each with the weight of the rows that it stands for; with a
    /// `width` below 1 more of them, and nearer to all rows.
    pub fn condensed(&self, model: &Model, width: f64) -> Sweep {
        let runs = runs(&self.points, model, width);
        Sweep {
            points: averaged(&self.points, &runs, model),
        }
    }
}

/// Measured over model.
fn over(point: &Point, model: &Model) -> Point {
    let ratio = point.response / model.at(point.frequency);
    Point {
        response: if ratio.is_finite() {
            ratio
        } else {
            point.response
        },
        ..*point
    }
}

/// Poles and zeros near the imaginary axis: frequency and half-width, Hz.
fn roots(model: &Model, low: f64, high: f64) -> Vec<(f64, f64)> {
    let modes = model.modes.iter().map(|m| (m.frequency, m.damping));
    let zeros = antiresonances(model, low, high);
    let zeros = zeros.iter().map(|z| (z.frequency, z.damping.abs()));
    modes
        .chain(zeros)
        .map(|(f, damping)| (f, damping * f))
        .collect()
}

/// How wide a run may be that begins here, Hz.
fn widest(frequency: f64, roots: &[(f64, f64)]) -> f64 {
    let against = |&(root, half): &(f64, f64)| AGAINST_ROOTS * (frequency - root).abs().max(half);
    let narrowest = roots.iter().map(against);
    narrowest.fold(AGAINST_FREQUENCY * frequency, f64::min)
}

/// A run, and by how much its misfit is above what noise makes.
fn straying(ratios: &[Point], rows: Range<usize>, noise: f64) -> Run {
    let own = &ratios[rows.clone()];
    let free = own.len() as f64 - 2.0;
    let variations = if free < 1.0 {
        0.0
    } else {
        let size = own.iter().map(|p| p.response.norm_sqr()).sum::<f64>() / own.len() as f64;
        let misfit = misfit(own) / size / free;
        misfit - noise * (1.0 + STRAYING / free.sqrt())
    };
    Run { rows, variations }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Mode;
    use std::f64::consts::TAU;

    fn sharp() -> Model {
        let omega = TAU * 300.0;
        Model {
            modes: vec![Mode {
                frequency: 300.0,
                damping: 0.004,
                residue: 0.4 * omega * omega,
                slope: 0.0,
            }],
            ..Model::default()
        }
    }

    fn sweep(of: &Model, rows: u32) -> Sweep {
        let at = |i: u32| 10.0 + 990.0 * f64::from(i) / f64::from(rows - 1);
        let points = (0..rows).map(|i| Point::new(at(i), of.at(at(i))));
        Sweep {
            points: points.collect(),
        }
    }

    #[test]
    fn a_sharp_mode_stays_as_it_is() {
        let model = sharp();
        let few = sweep(&model, 20_000).condensed(&model, 1.0);
        assert!(few.points.len() < 400, "{}", few.points.len());
        assert!((few.points.iter().map(|p| p.weight).sum::<f64>() - 20_000.0).abs() < 1e-6);
        for point in &few.points {
            assert!((point.response / model.at(point.frequency) - 1.0).norm() < 1e-12);
        }
    }

    #[test]
    fn what_the_model_lacks_is_not_averaged_away() {
        // The model knows nothing of the mode; its rows stay apart.
        let few = sweep(&sharp(), 20_000).condensed(&Model::default(), 1.0);
        let near = few
            .points
            .iter()
            .filter(|p| (p.frequency - 300.0).abs() < 2.0);
        assert!(near.count() > 10);
    }
}
