//! The error along a trajectory, which is not smooth at its rows.

use super::Trajectory;
use super::curve::Curve;
use crate::numerics;

/// The error as the trajectory, straight between rows, less a smooth position; times count from the first row.
pub(super) struct Along<'a> {
    trajectory: &'a Trajectory,
    position: Curve<'a>,
    /// Nodes and rows within the time that was marched, s, rising.
    times: Vec<f64>,
}

impl<'a> Along<'a> {
    /// `position` are the values at the nodes, counted from the first row's.
    pub fn new(trajectory: &'a Trajectory, position: &'a [f64], node: f64) -> Along<'a> {
        let end = node * position.len().saturating_sub(1) as f64;
        let start = trajectory.start();
        let rows = trajectory.rows.iter().map(|row| row.0 - start);
        let mut times: Vec<f64> = (0..position.len())
            .map(|k| k as f64 * node)
            .chain(rows.filter(|t| (0.0..=end).contains(t)))
            .collect();
        times.sort_by(f64::total_cmp);
        times.dedup();
        Along {
            trajectory,
            position: Curve {
                values: position,
                node,
            },
            times,
        }
    }

    /// The error at a time.
    fn at(&self, t: f64) -> f64 {
        let wanted = self.trajectory.at(t + self.trajectory.start()) - self.trajectory.first();
        wanted - self.position.at(t / self.position.node)
    }

    /// The value that is largest by size, and when, s: at a row, at a node, or between two of them.
    pub fn peak(&self) -> Option<(f64, f64)> {
        let sizes = self.times.iter().map(|&t| self.at(t).abs());
        let (top, _) = sizes.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let own = self.times[top];
        let mut best = (self.at(own), own);
        for side in [self.times.get(top.wrapping_sub(1)), self.times.get(top + 1)] {
            let Some(&side) = side else { continue };
            // Between corners the size has one top.
            let (low, high) = (own.min(side), own.max(side));
            let t = numerics::top(|t| self.at(t).abs(), low, high);
            if self.at(t).abs() > best.0.abs() {
                best = (self.at(t), t);
            }
        }
        Some(best)
    }

    /// The mean of the square up to a time, under a root; by Simpson's rule between corners.
    pub fn rms(&self, until: f64) -> f64 {
        let kept = self.times.windows(2).filter(|pair| pair[1] <= until);
        let square = |t: f64| self.at(t).powi(2);
        let (mut area, mut length) = (0.0, 0.0);
        for pair in kept {
            let width = pair[1] - pair[0];
            let middle = square(0.5 * (pair[0] + pair[1]));
            area += width * (square(pair[0]) + 4.0 * middle + square(pair[1])) / 6.0;
            length += width;
        }
        if length > 0.0 {
            (area / length).max(0.0).sqrt()
        } else {
            0.0
        }
    }
}
