//! A sweep between its points.

use num_complex::Complex64;

use super::Sweep;

impl Sweep {
    /// The answer at a frequency in Hz: between two points magnitude and phase run evenly over
    /// ln frequency, the phase by the shorter way round; beyond the ends it stays as at the end. NaN for
    /// a sweep without points.
    pub fn at(&self, frequency: f64) -> Complex64 {
        let next = self.points.partition_point(|p| p.frequency < frequency);
        let (Some(last), Some(first)) = (self.points.last(), self.points.first()) else {
            return Complex64::new(f64::NAN, f64::NAN);
        };
        if next == 0 {
            return first.response;
        }
        let Some(above) = self.points.get(next) else {
            return last.response;
        };
        let below = &self.points[next - 1];
        let share = (frequency / below.frequency).ln() / (above.frequency / below.frequency).ln();
        let turn = above.response / below.response;
        if turn.is_finite() && turn != Complex64::ZERO {
            below.response * (turn.ln() * share).exp()
        } else {
            below.response + (above.response - below.response) * share
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Point;

    #[test]
    fn a_power_law_is_met_between_its_points() {
        let law = |f: f64| Complex64::from_polar(f.powi(-2), -3.0);
        let points = [10.0, 20.0, 70.0].map(|frequency| Point::new(frequency, law(frequency)));
        let sweep = Sweep {
            points: points.to_vec(),
        };
        for f in [10.0, 11.0, 33.0, 70.0] {
            assert!((sweep.at(f) / law(f) - 1.0).norm() < 1e-12, "{f}");
        }
    }
}
