//! What scripts may ask for: [`crate::solve`]'s functions from text to text.

use serde::{Deserialize, Serialize};

/// A question of a script. Designs are JSON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Call {
    /// [`crate::solve_json`]
    Solve(String),
    /// [`crate::pick_json`]
    Pick(String),
    /// [`crate::export_json`]
    Export {
        design: String,
        what: String,
        boards: u32,
    },
    /// [`crate::catalogue_json`]
    Catalogue,
    /// [`crate::extremes_json`]
    Extremes {
        design: String,
        boards: u32,
        frequencies: u32,
    },
    /// [`crate::bands_json`]
    Bands {
        design: String,
        boards: u32,
        frequencies: u32,
    },
}

impl Call {
    /// The answer, as JSON.
    pub fn answer(&self) -> String {
        match self {
            Call::Solve(design) => crate::solve_json(design),
            Call::Pick(design) => crate::pick_json(design),
            Call::Export {
                design,
                what,
                boards,
            } => crate::export_json(design, what, *boards),
            Call::Catalogue => crate::catalogue_json(),
            Call::Extremes {
                design,
                boards,
                frequencies,
            } => crate::extremes_json(design, *boards, *frequencies),
            Call::Bands {
                design,
                boards,
                frequencies,
            } => crate::bands_json(design, *boards, *frequencies),
        }
    }
}
