//! A filter asked as a whole, worked out.

use serde::{Deserialize, Serialize};

use crate::design::{FilterDesign, StageDesign};
use crate::stages::Ask;

/// What a filter takes, or why it cannot be had.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilterOutcome {
    /// The filter that this is told of.
    pub of: FilterDesign,
    /// Order of the low-pass that it is made from; none where it cannot be had.
    pub order: Option<u32>,
    /// What it is, or why it cannot be had, in one sentence.
    pub told: String,
    /// The stages that make it, in their order; none where it cannot be had.
    pub stages: Vec<FilterStage>,
}

/// One stage of a filter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilterStage {
    pub circuit: String,
    pub title: String,
    #[serde(with = "crate::tagged")]
    pub ask: Ask,
    /// What is wanted of its figures, in words.
    pub wanted: Vec<String>,
}

impl FilterOutcome {
    /// The stages as they stand in a path.
    pub fn path(&self) -> Vec<StageDesign> {
        let stage = |stage: &FilterStage| StageDesign {
            circuit: stage.circuit.clone(),
            ask: stage.ask.clone(),
            ..StageDesign::default()
        };
        self.stages.iter().map(stage).collect()
    }
}
