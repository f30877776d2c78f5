//! A signal known at nodes, and polynomials between them.

use super::hold::{NODES, Nodes, PARTS, weights};
use crate::numerics::zero;

/// Values at equidistant nodes from t = 0 on, `PARTS` to a step and one more at the end.
pub(super) struct Curve<'a> {
    pub values: &'a [f64],
    /// Seconds between nodes.
    pub node: f64,
}

impl Curve<'_> {
    /// The value at a place counted in nodes.
    pub fn at(&self, place: f64) -> f64 {
        let steps = self.values.len().saturating_sub(1) / PARTS;
        let step = ((place / PARTS as f64) as usize).min(steps.saturating_sub(1));
        let Some(own) = self.values.get(step * PARTS..step * PARTS + NODES) else {
            return f64::NAN;
        };
        weights(place / PARTS as f64 - step as f64).dot(&Nodes::from_column_slice(own))
    }

    /// When the value first comes to a level from the side on which it begins, s.
    pub fn reaches(&self, level: f64) -> Option<f64> {
        let above = |v: f64| v >= level;
        let from = above(*self.values.first()?);
        let next = self.values.iter().position(|&v| above(v) != from)?;
        self.crossing(next, level)
    }

    /// When the value is for the last time as far as `band` from a level: 0 where it never is, none where
    /// it still is at the end.
    pub fn settles(&self, level: f64, band: f64) -> Option<f64> {
        let outside = |v: &f64| (v - level).abs() > band;
        let Some(last) = self.values.iter().rposition(outside) else {
            return Some(0.0);
        };
        self.values.get(last + 1)?;
        let side = if self.values[last] > level {
            band
        } else {
            -band
        };
        self.crossing(last + 1, level + side)
    }

    /// The value that is largest by size, and when, s.
    pub fn peak(&self) -> Option<(f64, f64)> {
        let sizes = self.values.iter().enumerate();
        let (top, _) = sizes.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        Some(self.refined(top))
    }

    /// The largest value, and when, s.
    pub fn highest(&self) -> Option<(f64, f64)> {
        let (top, _) = self
            .values
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(b.1))?;
        Some(self.refined(top))
    }

    /// Where the signal passes a level between a node and the one before it, s.
    fn crossing(&self, next: usize, level: f64) -> Option<f64> {
        let (a, b) = (next.checked_sub(1)? as f64, next as f64);
        // A jump at a node has no place between.
        let place = zero(|x| self.at(x) - level, a, b).unwrap_or(b);
        Some(place * self.node)
    }

    /// The extremum beside a node.
    fn refined(&self, top: usize) -> (f64, f64) {
        let here = self.values[top];
        let x = top as f64;
        // In the first step what is quick in the path still fades, which no polynomial follows.
        let inside = top > PARTS && top + 1 < self.values.len();
        let slope = |x: f64| self.at(x + 0.02) - self.at(x - 0.02);
        let found = inside.then(|| zero(slope, x - 0.9, x + 0.9)).flatten();
        match found.map(|place| (self.at(place), place)) {
            // Beside a jump the polynomials know nothing of each other.
            Some((value, place))
                if value.abs() >= here.abs() && (value - here).abs() <= 0.1 * here.abs() =>
            {
                (value, place * self.node)
            }
            _ => (here, x * self.node),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_of_a_cosine() {
        let values: Vec<f64> = (0..=80).map(|k| 1.0 - (0.1 * f64::from(k)).cos()).collect();
        let curve = Curve {
            values: &values,
            node: 0.1,
        };
        let reached = curve.reaches(1.0).expect("reached");
        assert!((reached - std::f64::consts::FRAC_PI_2).abs() < 1e-6);
        let (value, time) = curve.highest().expect("a top");
        assert!((value - 2.0).abs() < 1e-7 && (time - std::f64::consts::PI).abs() < 1e-5);
        assert_eq!(curve.settles(1.0, 1.5), Some(0.0));
        assert_eq!(curve.settles(1.0, 0.1), None);
    }
}
