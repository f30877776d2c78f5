//! How many of some hundred points lie within given bounds when each coordinate moves in proportion to some drawn numbers.

/// Points that are drawn, and as many that are their mirror images.
pub const POINTS: usize = 256;

/// How far each of [`POINTS`] points lies from the centre, coordinate by coordinate.
#[derive(Clone, Debug)]
pub struct Scatter {
    /// One coordinate's deviations after the other's. Shares are counts, for which single precision is enough.
    by: Vec<f32>,
    /// Coordinate by coordinate, the furthest.
    most: Vec<f32>,
}

impl Scatter {
    /// Of `count` coordinates; `slopes[k]` is how they move with the `k`th drawn number, of which `draws` has
    /// [`POINTS`], one number after the other.
    pub fn new(slopes: &[Vec<f64>], draws: &[f32], count: usize) -> Scatter {
        let mut by = vec![0.0; POINTS * count];
        for (slope, draws) in slopes.iter().zip(draws.chunks(POINTS)) {
            for (column, slope) in by.chunks_exact_mut(POINTS).zip(slope) {
                let slope = *slope as f32;
                for (by, draw) in column.iter_mut().zip(draws) {
                    *by += slope * draw;
                }
            }
        }
        let most = by.chunks_exact(POINTS).map(furthest).collect();
        Scatter { by, most }
    }

    /// The share of points of which no group of coordinates has a norm above 1, when the centre lies at `centre`;
    /// `groups` says how many coordinates each group has. 0 where something is not a number.
    pub fn share(&self, groups: &[usize], centre: &[f64]) -> f64 {
        let is_known = self.most.iter().all(|most| most.is_finite());
        if !is_known || centre.iter().any(|at| !at.is_finite()) {
            return 0.0;
        }
        // The largest square of any group's norm, of points and of their mirror images.
        let mut worst = [[0.0f32; POINTS]; 2];
        let columns = (self.by.chunks_exact(POINTS).zip(&self.most)).zip(centre);
        let mut columns = columns.map(|((by, most), at)| (by, *most, *at as f32));
        for &size in groups {
            take_in(columns.clone().take(size), &mut worst);
            columns.nth(size - 1);
        }
        let good = worst
            .as_flattened()
            .iter()
            .map(|worst| i32::from(*worst <= 1.0));
        f64::from(good.sum::<i32>()) / (2 * POINTS) as f64
    }
}

/// Takes in a group of coordinates, each with its deviations and the furthest of them.
fn take_in<'a>(
    group: impl Iterator<Item = (&'a [f32], f32, f32)> + Clone,
    worst: &mut [[f32; POINTS]; 2],
) {
    let reach = group.clone().map(|(_, most, at)| (at.abs() + most).powi(2));
    // No point of these is outside.
    if reach.sum::<f32>() <= 1.0 {
        return;
    }
    let mut squares = [[0.0f32; POINTS]; 2];
    for (column, _, at) in group {
        let [points, mirrored] = &mut squares;
        for ((point, mirrored), by) in points.iter_mut().zip(mirrored).zip(column) {
            *point += (at + by) * (at + by);
            *mirrored += (at - by) * (at - by);
        }
    }
    let squares = squares.as_flattened().iter();
    for (worst, square) in worst.as_flattened_mut().iter_mut().zip(squares) {
        *worst = if *square > *worst { *square } else { *worst };
    }
}

/// The largest size; NaN where one is not a number.
fn furthest(column: &[f32]) -> f32 {
    // A sum is not a number either then.
    let sum: f32 = column.iter().sum();
    match sum.is_nan() {
        true => f32::NAN,
        false => column.iter().fold(0.0, |most, by| most.max(by.abs())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers evenly from −1 to 1: of them a share of 1/slope lies within 1.
    fn even() -> Vec<f32> {
        (0..POINTS)
            .map(|at| (at as f32 + 0.5) / POINTS as f32)
            .collect()
    }

    #[test]
    fn one_coordinate_that_moves_evenly() {
        let scatter = Scatter::new(&[vec![2.0]], &even(), 1);
        assert_eq!(scatter.share(&[1], &[0.0]), 0.5);
        // From −1.5 to 2.5 four points in eight are within ±1.
        assert_eq!(scatter.share(&[1], &[0.5]), 0.5);
        // From −0.5 to 3.5 three in eight.
        assert_eq!(scatter.share(&[1], &[1.5]), 0.375);
    }

    #[test]
    fn a_group_counts_by_its_norm() {
        let slopes = [vec![0.8, 0.8]];
        let scatter = Scatter::new(&slopes, &even(), 2);
        assert_eq!(scatter.share(&[1, 1], &[0.0, 0.0]), 1.0);
        let together = scatter.share(&[2], &[0.0, 0.0]);
        assert!((together - 1.0 / (0.8 * 2f64.sqrt())).abs() < 1.0 / POINTS as f64);
    }

    #[test]
    fn what_is_no_number_is_not_within() {
        let scatter = Scatter::new(&[vec![f64::NAN]], &even(), 1);
        assert_eq!(scatter.share(&[1], &[0.0]), 0.0);
        let scatter = Scatter::new(&[vec![0.1]], &even(), 1);
        assert_eq!(scatter.share(&[1], &[f64::NAN]), 0.0);
    }
}
