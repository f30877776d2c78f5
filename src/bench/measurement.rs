//! What was measured.

use crate::plant::Sweep;

/// A measured response, as [`crate::plant::sweep`] reads it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measurement {
    /// Frequencies in Hz, output over input, and how much each point counts.
    pub sweep: Sweep,
    /// Whether the phase was measured; without it only the magnitudes of the responses are looked at.
    pub has_phase: bool,
    /// Standard deviation of a point of weight 1 relative to its magnitude, for each of its two parts; read off the data
    /// where it is not given.
    pub noise: Option<f64>,
}

/// Why a measurement says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MeasurementError {
    #[error("The measured response has {0} points; {FEWEST} are needed at least.")]
    TooFew(usize),
    #[error("Row {0} of the measured response is 0 or no number.")]
    NotANumber(usize),
    #[error(
        "Row {0} of the measured response does not rise in frequency; frequencies must be above 0 and rise."
    )]
    NotRising(usize),
    #[error("The noise must lie above 0 and below 1.")]
    Noise,
    #[error("There is no stage whose response could have been measured.")]
    NoStage,
    #[error("The population is not of these stages: {0} numbers instead of {1}.")]
    Population(usize, usize),
}

/// So few points tell nothing of noise.
const FEWEST: usize = 6;

impl Measurement {
    /// A response with its phase.
    pub fn new(sweep: Sweep) -> Measurement {
        Measurement {
            sweep,
            has_phase: true,
            noise: None,
        }
    }

    /// Whether it can be used.
    ///
    /// # Errors
    /// What stands in the way, with the row counted from 1.
    pub fn check(&self) -> Result<(), MeasurementError> {
        let points = &self.sweep.points;
        if points.len() < FEWEST {
            return Err(MeasurementError::TooFew(points.len()));
        }
        for (row, point) in (1..).zip(points) {
            let size = point.response.norm();
            let weighs = point.weight.is_finite() && point.weight > 0.0;
            if !(size.is_finite() && size > 0.0 && weighs) {
                return Err(MeasurementError::NotANumber(row));
            }
        }
        let first = points[0].frequency;
        if !(first > 0.0 && first.is_finite()) {
            return Err(MeasurementError::NotRising(1));
        }
        for (row, pair) in (2..).zip(points.windows(2)) {
            let next = pair[1].frequency;
            if !(next > pair[0].frequency && next.is_finite()) {
                return Err(MeasurementError::NotRising(row));
            }
        }
        match self.noise {
            Some(noise) if !(noise > 0.0 && noise < 1.0) => Err(MeasurementError::Noise),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    use super::*;
    use crate::plant::Point;

    fn sweep(frequencies: &[f64]) -> Measurement {
        let point = |f: &f64| Point::new(*f, Complex64::new(1.0, 0.0));
        Measurement::new(Sweep {
            points: frequencies.iter().map(point).collect(),
        })
    }

    #[test]
    fn what_cannot_be_used_is_refused() {
        let good = sweep(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
        assert_eq!(good.check(), Ok(()));
        assert_eq!(sweep(&[1.0, 2.0]).check(), Err(MeasurementError::TooFew(2)));
        let wrong = sweep(&[1.0, 2.0, 3.0, 3.0, 5.0, 6.0]);
        assert_eq!(wrong.check(), Err(MeasurementError::NotRising(4)));
        let mut nothing = good.clone();
        nothing.sweep.points[2].response = Complex64::new(0.0, 0.0);
        assert_eq!(nothing.check(), Err(MeasurementError::NotANumber(3)));
        let loud = Measurement {
            noise: Some(1.0),
            ..good
        };
        assert_eq!(loud.check(), Err(MeasurementError::Noise));
    }
}
