//! A part that can be turned.

use serde::{Deserialize, Serialize};

/// A fixed resistor with a trimmer in series, in a resistor's place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trimmer {
    /// Place of the stage in the path.
    pub stage: usize,
    /// Designator of the resistor that both stand for.
    pub part: String,
    /// What stands in series with the trimmer, Ω.
    pub fixed: f64,
    /// The trimmer from end to end, Ω.
    pub range: f64,
    /// Turns from end to end.
    pub turns: f64,
}

/// How a trimmer is to be turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// Place of the stage in the path.
    pub stage: usize,
    pub part: String,
    /// Turns towards a higher resistance; below 0 towards a lower one.
    pub turns: f64,
    /// What the trimmer and its fixed part make now, and shall make, Ω.
    pub from: f64,
    pub to: f64,
    /// Whether the trimmer goes so far.
    pub is_within_reach: bool,
}
