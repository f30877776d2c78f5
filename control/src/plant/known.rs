//! A plant as it is known.

use num_complex::Complex64;

use super::{Model, Sweep};

/// A plant as it is known.
#[derive(Clone, Copy)]
pub enum Plant<'a> {
    Model(&'a Model),
    /// Known between its first and its last frequency only.
    Sweep(&'a Sweep),
}

impl Plant<'_> {
    /// The plant at a frequency in Hz.
    pub fn at(&self, frequency: f64) -> Complex64 {
        match self {
            Plant::Model(model) => model.at(frequency),
            Plant::Sweep(sweep) => sweep.at(frequency),
        }
    }

    /// Delay in seconds, as far as it is known apart from the rest.
    pub fn delay(&self) -> f64 {
        match self {
            Plant::Model(model) => model.delay,
            Plant::Sweep(_) => 0.0,
        }
    }

    /// Poles in rad/s; none of a sweep.
    pub(crate) fn poles(&self) -> Vec<Complex64> {
        match self {
            Plant::Model(model) => model.poles(),
            Plant::Sweep(_) => Vec::new(),
        }
    }

    /// From where to where it is known, Hz; a model is known everywhere.
    pub fn reach(&self) -> Option<(f64, f64)> {
        match self {
            Plant::Model(_) => None,
            Plant::Sweep(sweep) => {
                let (first, last) = (sweep.points.first()?, sweep.points.last()?);
                Some((first.frequency, last.frequency))
            }
        }
    }
}
