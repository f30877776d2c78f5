//! What is found of the worst case, and of who is to blame.

use serde::{Deserialize, Serialize};

use super::{BoardPart, nullable};
use crate::quantity::Unit;

/// The worst case of the shown stage: how far its figures can get within the box that tolerances, drift and
/// ageing leave to the parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CornersOutcome {
    /// "all 256 corners".
    pub method: String,
    /// Whether every corner was looked at.
    pub is_complete: bool,
    /// Boards that were looked at, those inside the box among them.
    pub boards: u64,
    /// In the order of the spread's.
    pub figures: Vec<FigureCorners>,
}

/// One figure's worst case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureCorners {
    pub name: String,
    pub label: String,
    pub unit: Unit,
    pub lowest: CornerBoard,
    pub highest: CornerBoard,
    /// Whether both hold the figure's limits, where it has some.
    pub holds: Option<bool>,
    /// Boards among those looked at on which the figure could not be read.
    pub unreadable: u32,
    /// What makes it turn round inside the box, by name.
    pub turns: Vec<String>,
    /// In a sentence, how far the two can be relied on.
    pub guarantee: String,
}

/// A board at an end of a figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CornerBoard {
    #[serde(with = "nullable")]
    pub value: f64,
    /// Whether it lies inside the box and no corner gets as far.
    pub is_inside: bool,
    /// The furthest value at a corner.
    #[serde(with = "nullable")]
    pub at_corners: f64,
    /// What strays from what is marked, op amps included.
    pub parts: Vec<BoardPart>,
}

/// Variance contributions of the parts of the shown stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlameOutcome {
    /// What strays independently.
    pub factors: Vec<BlameFactor>,
    /// In the order of the spread's.
    pub figures: Vec<FigureBlame>,
    /// Who costs the yield: shares of whether a board misses any limit.
    #[serde(rename = "yield")]
    pub misses: FigureBlame,
    /// Boards of the linear shares, and samples of Sobol's indices; 0 where none were needed.
    pub boards: u32,
    pub samples: u32,
}

/// Something that strays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlameFactor {
    /// "R1", "the lot of resistors".
    pub label: String,
    /// The part on the drawing that it belongs to, where it is one.
    pub part: Option<String>,
}

/// Shares of one figure's variance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureBlame {
    pub name: String,
    pub label: String,
    pub method: BlameMethod,
    /// By factor, empty where nothing can be said.
    pub shares: Vec<f64>,
    /// Their standard errors.
    pub errors: Vec<f64>,
    /// Sum of the linear shares: what a straight line explains.
    #[serde(with = "nullable")]
    pub linear: f64,
    /// Sobol's first-order indices, where the method is his.
    pub first: Vec<f64>,
    /// In sentences, how the shares were found and how well they are known.
    pub told: String,
}

/// How shares were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BlameMethod {
    /// Squared correlation with what a factor contributes.
    Linear,
    /// Sobol's total-order index.
    TotalOrder,
}
