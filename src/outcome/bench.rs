//! The built board against the predicted one.

use serde::{Deserialize, Serialize};

use super::Shape;
use crate::bench::Report;
use crate::design::Measured;
use crate::feedback::Margins;

/// What the bench finds of the measurement that is looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BenchOutcome {
    pub of: Measured,
    /// The stage's place in the path, where one stage was measured.
    pub stage: Option<usize>,
    /// Why the measurement cannot be used.
    pub error: Option<String>,
    /// Whether the phase was measured.
    pub has_phase: bool,
    /// What was measured, with no phases where these were not; of a loop in any form the open loop, L.
    pub measured: Shape,
    /// What the parts as marked would give, over the same span.
    pub predicted: Shape,
    /// Where it lies, what made it, and what to do; none where it cannot be used.
    pub report: Option<Report>,
    /// The same in sentences.
    pub words: Vec<String>,
    /// Of a loop whose phase was measured: margins as measured, and as predicted.
    pub margins: Option<[Margins; 2]>,
}
