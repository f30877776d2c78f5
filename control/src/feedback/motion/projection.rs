//! A trajectory as the march holds it: a polynomial of the fourth degree in each step.
//!
//! Where a row's corner lies within a step, the polynomial is the one with the trajectory's own mean and first four
//! moments (its projection on Legendre's polynomials; Abramowitz and Stegun, "Handbook of Mathematical Functions",
//! 22.2 and 25.4.30, from memory). What it leaves out then has nothing to say to whatever changes slowly over a step,
//! so that the states at the step's end are right to the sixth power of the step; a polynomial through the nodes
//! would miss the corner to the second.

use super::Trajectory;
use super::hold::{NODES, Nodes, PARTS};

/// Gauss's three places from −1 to 1 and their weights; exact up to the fifth degree.
const GAUSS: [(f64, f64); 3] = [
    (-0.774_596_669_241_483_4, 5.0 / 9.0),
    (0.0, 8.0 / 9.0),
    (0.774_596_669_241_483_4, 5.0 / 9.0),
];

/// The nodes of the polynomial over `step` seconds from the time `from` on, counted from the first row's time and
/// position.
pub(super) fn held(trajectory: &Trajectory, from: f64, step: f64) -> Nodes {
    let start = trajectory.start();
    let value = |t: f64| trajectory.at(start + t) - trajectory.first();
    let corners = trajectory.within(start + from, start + from + step);
    let inside: Vec<f64> = corners
        .iter()
        .map(|row| (row.0 - start - from) / step)
        .filter(|place| (1e-12..1.0 - 1e-12).contains(place))
        .collect();
    if inside.is_empty() {
        return Nodes::from_fn(|k, _| value(from + step * k as f64 / PARTS as f64));
    }
    let ends = inside.iter().copied().chain([1.0]);
    let starts = [0.0].into_iter().chain(inside.iter().copied());
    let mut moments = [0.0; NODES];
    for (low, high) in starts.zip(ends) {
        for (place, weight) in GAUSS {
            let x = 0.5 * (low + high) + 0.5 * (high - low) * place;
            let share = 0.5 * (high - low) * weight * value(from + step * x);
            for (moment, own) in moments.iter_mut().zip(legendre(2.0 * x - 1.0)) {
                *moment += share * own;
            }
        }
    }
    Nodes::from_fn(|k, _| {
        let own = legendre(2.0 * k as f64 / PARTS as f64 - 1.0);
        let terms = moments.iter().zip(own).enumerate();
        terms
            .map(|(j, (moment, own))| (2 * j + 1) as f64 * moment * own)
            .sum()
    })
}

/// Legendre's polynomials of degree 0 to 4.
fn legendre(x: f64) -> [f64; NODES] {
    let mut found = [1.0, x, 0.0, 0.0, 0.0];
    for j in 2..NODES {
        let n = j as f64;
        found[j] = ((2.0 * n - 1.0) * x * found[j - 1] - (n - 1.0) * found[j - 2]) / n;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feedback::motion::hold::weights;

    #[test]
    fn mean_and_moments_are_the_trajectorys() {
        let trajectory = Trajectory::read("0 0\n1 2\n1.3 2\n1.9 -1\n5 0\n").expect("rows");
        let nodes = held(&trajectory, 0.6, 1.5);
        for power in 0..5 {
            let count = 30_000;
            let mut apart = 0.0;
            for k in 0..count {
                let x = (f64::from(k) + 0.5) / f64::from(count);
                let own = trajectory.at(0.6 + 1.5 * x) - weights(x).dot(&nodes);
                apart += own * x.powi(power) / f64::from(count);
            }
            assert!(apart.abs() < 1e-7, "{power} {apart}");
        }
        assert_eq!(held(&trajectory, 0.25, 0.5)[2], 1.0);
    }
}
