//! How noisy a measurement is, by how much neighbouring errors differ.
//!
//! What a model leaves is noise and what the model misses; the second changes slowly over frequency. So each error is
//! held against the mean of its neighbours', and the median of the squares is taken, which a few wild points do not
//! move.

use num_complex::Complex64;

use super::data::{Data, FLOOR};

/// A difference's variance over that of one point: 1 + 1/4 + 1/4.
const OF_DIFFERENCE: f64 = 1.5;
/// Median of a chi-squared variable with one degree of freedom, and with two.
const MEDIANS: [f64; 2] = [0.454_936, 1.386_294];
/// Squares above this many variances are not noise.
const TAME: f64 = 12.0;
/// A point that is this many standard deviations from both neighbours' mean is not part of the curve.
const WILD: f64 = 7.0;

/// Standard deviation of a point of weight 1 relative to its magnitude, of each of its two parts; none where there are
/// too few points. The second are points that lie far off their neighbours'.
pub(super) fn noise(data: &Data, model: &[Complex64]) -> Option<(f64, Vec<usize>)> {
    let errors = data.errors(model);
    let differences: Vec<(usize, f64)> = errors
        .windows(3)
        .map(|w| {
            let off = w[1].1 - (w[0].1 + w[2].1) / 2.0;
            (w[1].0, off.norm_sqr())
        })
        .collect();
    if differences.len() < 3 {
        return None;
    }
    let mut squares: Vec<f64> = differences.iter().map(|d| d.1).collect();
    squares.sort_by(f64::total_cmp);
    let median = squares[squares.len() / 2].midpoint(squares[(squares.len() - 1) / 2]);
    let of = MEDIANS[usize::from(data.has_phase)];
    // The mean of what is not far out tells it closer than the median.
    let rough = median / of;
    let tame = squares.iter().take_while(|square| **square < TAME * rough);
    let (sum, count) = tame.fold((0.0, 0.0), |(sum, count), square| {
        (sum + square, count + 1.0)
    });
    let parts = if data.has_phase { 2.0 } else { 1.0 };
    if count < 1.0 || sum == 0.0 {
        return Some((FLOOR, Vec::new()));
    }
    let noise = (sum / count / parts / OF_DIFFERENCE).sqrt().max(FLOOR);
    let limit = OF_DIFFERENCE * (WILD * noise).powi(2);
    let is_alone = |k: usize| {
        // A wild point stands out against the mean of its neighbours and makes theirs stand out by half as much.
        let own = differences[k].1;
        let beside = [k.wrapping_sub(1), k + 1].map(|at| differences.get(at).map_or(0.0, |d| d.1));
        own > limit && beside.iter().all(|other| *other < 0.5 * own)
    };
    let wild = (0..differences.len()).filter(|k| is_alone(*k));
    let wild = wild.map(|k| differences[k].0).collect();
    Some((noise, wild))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Measurement;
    use crate::plant::{Point, Sweep};
    use crate::random::uniform;

    /// Normal noise of a known size on a curve that is off smoothly, and one point that is wild.
    #[test]
    fn noise_and_a_wild_point_on_a_smooth_error() {
        let mut state = 5;
        let mut normal = || {
            let (a, b) = (uniform(&mut state), uniform(&mut state));
            (-2.0 * a.max(1e-12).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
        };
        let mut points: Vec<Point> = (0..150)
            .map(|k| {
                let f = 10f64.powf(1.0 + f64::from(k) / 50.0);
                let smooth = Complex64::new(1.0 + 0.1 * f.ln().sin(), 0.05 * f.ln());
                let off = Complex64::new(1.0 + 0.01 * normal(), 0.01 * normal());
                Point::new(f, smooth * off)
            })
            .collect();
        points[40].response *= 1.3;
        let data = Data::new(&Measurement::new(Sweep { points }));
        let model = vec![Complex64::new(1.0, 0.0); data.len()];
        let (noise, wild) = noise(&data, &model).expect("a noise");
        assert!((noise / 0.01 - 1.0).abs() < 0.25, "{noise}");
        assert_eq!(wild, vec![40]);
    }
}
