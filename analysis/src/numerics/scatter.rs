//! How many of some hundred points lie within given bounds when each coordinate moves in proportion to some drawn numbers.

use wide::f32x8;

/// Points that are drawn, and as many that are their mirror images.
pub const POINTS: usize = 256;

/// Numbers side by side: picks ask for thousands of shares.
type Lane = f32x8;
const LANES: usize = POINTS / 8;
type Column = [Lane; LANES];

/// How far each of [`POINTS`] points lies from the centre, coordinate by coordinate.
#[derive(Clone, Debug)]
pub struct Scatter {
    /// Each coordinate's deviations. Shares are counts, for which single precision is enough.
    by: Vec<Column>,
    /// Coordinate by coordinate, the furthest.
    most: Vec<f32>,
}

impl Scatter {
    /// Of `count` coordinates; `slopes[k]` is how they move with the `k`th drawn number, of which `draws` has
    /// [`POINTS`], one number after the other.
    pub fn new(slopes: &[Vec<f64>], draws: &[f32], count: usize) -> Scatter {
        let mut by = vec![[Lane::ZERO; LANES]; count];
        for (slope, draws) in slopes.iter().zip(draws.chunks_exact(POINTS)) {
            for (column, slope) in by.iter_mut().zip(slope) {
                let slope = Lane::splat(*slope as f32);
                for (by, draws) in column.iter_mut().zip(draws.as_chunks().0) {
                    *by = slope.mul_add(Lane::new(*draws), *by);
                }
            }
        }
        let most = by.iter().map(furthest).collect();
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
        let mut worst = [[Lane::ZERO; LANES]; 2];
        let mut first = 0;
        for &size in groups {
            let group = first..first + size;
            first = group.end;
            let (by, most) = (&self.by[group.clone()], &self.most[group.clone()]);
            take_in(by, most, &centre[group], &mut worst);
        }
        let within = worst.as_flattened().iter();
        let good = within.map(|worst| worst.simd_le(Lane::ONE).to_bitmask().count_ones());
        f64::from(good.sum::<u32>()) / (2 * POINTS) as f64
    }
}

/// Takes in a group of coordinates, each with its deviations and the furthest of them.
fn take_in(by: &[Column], most: &[f32], centre: &[f64], worst: &mut [Column; 2]) {
    let furthest = most
        .iter()
        .zip(centre)
        .map(|(most, at)| most + at.abs() as f32);
    // No point of these is outside.
    if furthest.map(|furthest| furthest * furthest).sum::<f32>() <= 1.0 {
        return;
    }
    let [points, mirrored] = worst;
    for lane in 0..LANES {
        let (mut square, mut other) = (Lane::ZERO, Lane::ZERO);
        for (column, at) in by.iter().zip(centre) {
            let at = Lane::splat(*at as f32);
            let (plus, minus) = (at + column[lane], at - column[lane]);
            square = plus.mul_add(plus, square);
            other = minus.mul_add(minus, other);
        }
        points[lane] = points[lane].fast_max(square);
        mirrored[lane] = mirrored[lane].fast_max(other);
    }
}

/// The largest size; NaN where one is not a number.
fn furthest(column: &Column) -> f32 {
    // A sum is not a number either then.
    let sum: Lane = column.iter().copied().sum();
    let most = column
        .iter()
        .fold(Lane::ZERO, |most, by| most.fast_max(by.abs()));
    match sum.reduce_add().is_nan() {
        true => f32::NAN,
        false => most.to_array().into_iter().fold(0.0, f32::max),
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
