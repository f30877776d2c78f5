//! What a fit found.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::decision::Decision;
use super::settings::Free;
use crate::plant::{Antiresonance, Model, Peak};

/// A fitted model and how far it can be trusted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fitted {
    /// The plant, in SI.
    pub model: Model,
    /// What was free in it.
    pub free: Free,
    /// The standard uncertainty of each number of `model`, in its place and unit; 0 for what was held, and
    /// `f64::MAX` for what the sweep says nothing about.
    ///
    /// From the curvature of the sum of squares and the variance of the residual, as linear least squares
    /// has it (Bates and Watts, "Nonlinear Regression Analysis", 2.2; JCGM 100:2008, 4.2; from memory). It
    /// takes the residual for noise: where the model lacks something, the truth may be further away.
    pub uncertainties: Model,
    /// What the plant does towards low frequencies; none where a start was given.
    pub decision: Option<Decision>,
    /// Root mean square of the sizes of `residuals` over the points in use: 0.007 for a plant seen
    /// through noise of half a per cent in both parts.
    pub rms: f64,
    /// `(model − measured)/size` at every point of the sweep, in use or not. The size is |measured|, and
    /// not less than a fifth of the median of five neighbours' magnitudes.
    pub residuals: Vec<Complex64>,
    /// Indices of points that were set aside because they alone lie far off.
    pub set_aside: Vec<usize>,
    /// One for each mode, in order.
    pub peaks: Vec<Peak>,
    /// In ascending order of frequency.
    pub antiresonances: Vec<Antiresonance>,
    /// What the user should know, as sentences.
    pub notes: Vec<String>,
}
