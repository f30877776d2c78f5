//! What would change the yield, each proposal computed by drawing its boards.

use serde::{Deserialize, Serialize};

use crate::design::Edit;
use crate::quantity::Unit;

/// Proposals for the shown stage.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ProposalsOutcome {
    /// Boards that each proposal was tried on, the first of the spread.
    pub boards: u32,
    /// The yield of these as things are.
    #[serde(rename = "yield")]
    pub share: f64,
    /// Better parts in some places, where the yield is not what is wanted.
    pub tighten: Option<Proposal>,
    /// What one class better does for each part on its own, best first.
    pub singles: Vec<Single>,
    /// Cheaper parts in some places.
    pub loosen: Option<Proposal>,
    /// Other values, where they gain.
    pub centre: Option<Proposal>,
    /// What a trimmer would do, best first.
    pub trims: Vec<TrimOutcome>,
    pub told: Vec<String>,
}

/// A change of the design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// What it is and what it does, in one sentence.
    pub words: String,
    /// How it is made.
    pub edits: Vec<Edit>,
    /// What it does to the stage's figures with nominal parts, where it does.
    pub effects: Vec<Effect>,
    /// The yield with it.
    #[serde(rename = "yield")]
    pub share: f64,
    /// By how much that is more than without, on the same boards, and the standard error of it.
    pub gain: f64,
    pub error: f64,
}

/// A figure of the stage with nominal parts, before a change and after it, in its unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Effect {
    pub label: String,
    pub unit: Unit,
    pub before: f64,
    pub after: f64,
}

/// One part bought in the next better class of tolerance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Single {
    pub part: String,
    pub tolerance: f64,
    /// The yield with it.
    #[serde(rename = "yield")]
    pub share: f64,
    /// By how much that is more than without, on the same boards, and the standard error of it.
    pub gain: f64,
    pub error: f64,
}

/// One part turned on each board until one figure is where it is wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrimOutcome {
    pub part: String,
    /// The figure's name and label.
    pub figure: String,
    pub label: String,
    /// How far the figure goes for 1 % of the part, in shares of its limit, and how far each other limited figure
    /// then goes, by its label.
    pub moves: f64,
    pub others: Vec<(String, f64)>,
    /// What 1 % more of the part does to each limited figure.
    pub effects: Vec<Effect>,
    /// Boards that were trimmed for this.
    pub boards: u32,
    /// The share of boards that the trimmer shall bring there, and between which factors it must turn for that.
    pub share: f64,
    pub low: f64,
    pub high: f64,
    /// The yield when boards are trimmed within that range.
    #[serde(rename = "yield")]
    pub yield_after: f64,
    pub words: String,
}
