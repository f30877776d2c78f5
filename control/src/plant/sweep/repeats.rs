//! Rows in any order and repeated ones, to points in order of frequency.
//!
//! Rows at one frequency are averaged. Where most frequencies are measured several times, how the rows scatter tells
//! the noise: Pintelon and Schoukens, "System Identification: A Frequency Domain Approach", the chapter on sample
//! variances (from memory).

use num_complex::Complex64;

use super::Point;
use super::bounds::{SIZES, WEIGHTS};
use crate::numerics::put_in_order;
use crate::quantity::{Unit, rounded};

/// Frequencies that are apart by less than this part of themselves are the same.
const SAME: f64 = 1e-9;

/// Degrees of freedom that a noise is told from, at least; a repeat of a complex number is two. A variance is then
/// known to some 30 %.
const FREEDOM: f64 = 20.0;

/// No instrument repeats better than this, relative to the magnitude; a smaller scatter is taken for it.
const LEAST_NOISE: f64 = 1e-5;

/// Points in order of frequency, with sentences on what was done.
pub(super) struct Gathered {
    pub points: Vec<Point>,
    pub notes: Vec<String>,
    /// Whether the weights come from how repeats scatter; their median is 1 then.
    pub is_noise_known: bool,
}

/// Rows that share a frequency become one, at their weighted mean and with the sum of their weights; see above for
/// where there are many. The rows' weights are in inverse proportion to their relative variances.
pub(super) fn gathered(mut rows: Vec<Point>) -> Gathered {
    let mut found = Gathered {
        points: Vec::new(),
        notes: Vec::new(),
        is_noise_known: false,
    };
    if rows.is_sorted_by(|a, b| !are_same(a, b) && a.frequency < b.frequency) {
        found.points = rows;
        return found;
    }
    put_in_order(&mut rows, |a, b| a.frequency.total_cmp(&b.frequency));
    let mut scatters = Vec::new();
    let (mut doubled, mut lost) = (0, 0);
    let mut start = 0;
    while start < rows.len() {
        let run = &rows[start..];
        let length = run.iter().take_while(|row| are_same(&run[0], row)).count();
        let run = &run[..length];
        start += length;
        if length > 1 {
            doubled += length;
        }
        let point = mean(run);
        if !SIZES.contains(&point.response.norm()) {
            lost += length;
            continue;
        }
        if length > 1 {
            scatters.push(Scatter::of(found.points.len(), run, point.response));
        }
        found.points.push(point);
    }
    if doubled > 0 {
        found.notes.push(format!(
            "{doubled} rows share a frequency with another; averaged."
        ));
    }
    if lost > 0 {
        found
            .notes
            .push(format!("{lost} of these cancel each other; left out."));
    }
    if 2 * scatters.len() > found.points.len()
        && let Some(note) = weighted(&mut found.points, &scatters)
    {
        found.notes.push(note);
        found.is_noise_known = true;
    }
    found
}

/// Divides all weights by the one that makes their median 1.
pub(super) fn normalised(points: &mut [Point]) {
    let mut weights: Vec<f64> = points.iter().map(|point| point.weight).collect();
    if weights.is_empty() {
        return;
    }
    let middle = weights.len() / 2;
    let median = *weights.select_nth_unstable_by(middle, f64::total_cmp).1;
    for point in points {
        point.weight = (point.weight / median).clamp(*WEIGHTS.start(), *WEIGHTS.end());
    }
}

/// Whether two rows, the first not above the second, share a frequency.
fn are_same(a: &Point, b: &Point) -> bool {
    b.frequency <= a.frequency * (1.0 + SAME) && a.frequency <= b.frequency * (1.0 + SAME)
}

/// The mean of rows at one frequency.
fn mean(rows: &[Point]) -> Point {
    if let [row] = rows {
        return *row;
    }
    let weight: f64 = rows.iter().map(|row| row.weight).sum();
    Point {
        frequency: rows[0].frequency,
        response: rows
            .iter()
            .map(|row| row.response * (row.weight / weight))
            .sum::<Complex64>(),
        weight: weight.min(*WEIGHTS.end()),
    }
}

/// How rows at one frequency scatter.
struct Scatter {
    /// The point's place.
    at: usize,
    /// Sum of the weighted square distances from the mean, relative to the mean's square.
    squares: f64,
    /// Complex degrees of freedom.
    free: f64,
}

impl Scatter {
    fn of(at: usize, rows: &[Point], mean: Complex64) -> Scatter {
        let square = |row: &Point| row.weight * ((row.response - mean) / mean.norm()).norm_sqr();
        Scatter {
            at,
            squares: rows.iter().map(square).sum(),
            free: (rows.len() - 1) as f64,
        }
    }
}

/// Weights the points by the noise round each, if the repeats tell it; a sentence then.
fn weighted(points: &mut [Point], scatters: &[Scatter]) -> Option<String> {
    let free: f64 = scatters.iter().map(|scatter| scatter.free).sum();
    if 2.0 * free < FREEDOM || scatters.iter().all(|scatter| scatter.squares == 0.0) {
        return None;
    }
    let (mut least, mut most) = (f64::INFINITY, 0.0f64);
    for (at, point) in points.iter_mut().enumerate() {
        let variance = pooled(scatters, at).max(LEAST_NOISE * LEAST_NOISE);
        least = least.min(variance);
        most = most.max(variance);
        point.weight /= variance;
    }
    normalised(points);
    let percent = |variance: f64| rounded(variance.sqrt(), Unit::Percent, 2);
    Some(format!(
        "Most frequencies are repeated; how the rows scatter, {} to {} of the magnitude, sets how much each point counts.",
        percent(least),
        percent(most)
    ))
}

/// The variance of a row of weight 1 round a point, from as many neighbours on either side as it takes.
fn pooled(scatters: &[Scatter], at: usize) -> f64 {
    let next = scatters.partition_point(|scatter| scatter.at < at);
    let (mut low, mut high) = (next, next);
    let (mut squares, mut free) = (0.0, 0.0);
    let mut add = |scatter: &Scatter| {
        squares += scatter.squares;
        free += scatter.free;
        2.0 * free
    };
    if let Some(own) = scatters.get(next).filter(|scatter| scatter.at == at) {
        high += 1;
        add(own);
    }
    loop {
        let mut freedom = 0.0;
        let before = (low, high);
        if low > 0 {
            low -= 1;
            freedom = add(&scatters[low]);
        }
        if high < scatters.len() {
            freedom = add(&scatters[high]);
            high += 1;
        }
        if freedom >= FREEDOM || before == (low, high) {
            return squares / free;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_count_in_a_mean_and_add_up() {
        let row = |response: f64, weight| Point {
            weight,
            ..Point::new(3.0, Complex64::new(response, 0.0))
        };
        let found = gathered(vec![row(1.0, 1.0), row(5.0, 3.0)]).points;
        assert_eq!(found, [row(4.0, 4.0)]);
    }

    #[test]
    fn copies_tell_nothing_of_a_noise() {
        let rows = (0..200).map(|k| Point::new(f64::from(k / 2 + 1), Complex64::new(1.0, 2.0)));
        let found = gathered(rows.collect());
        assert!(!found.is_noise_known);
        assert!(found.points.iter().all(|point| point.weight == 2.0));
    }
}
