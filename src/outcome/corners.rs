//! What is found of the worst case.

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
