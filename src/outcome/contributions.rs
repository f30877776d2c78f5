//! What is found of variance contributions.

use serde::{Deserialize, Serialize};

use super::nullable;

/// Variance contributions of the parts of the shown stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ContributionsOutcome {
    /// What strays independently.
    pub factors: Vec<ContributingFactor>,
    /// In the order of the spread's.
    pub figures: Vec<FigureContributions>,
    /// What costs the yield: shares of whether a board misses any limit.
    #[serde(rename = "yield")]
    pub misses: FigureContributions,
    /// Boards of the linear shares, and samples of Sobol's indices; 0 where none were needed.
    pub boards: u32,
    pub samples: u32,
}

/// Something that strays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ContributingFactor {
    /// "R1", "the lot of resistors".
    pub label: String,
    /// The part on the drawing that it belongs to, where it is one.
    pub part: Option<String>,
}

/// Shares of one figure's variance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureContributions {
    pub name: String,
    pub label: String,
    pub method: ContributionMethod,
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
pub enum ContributionMethod {
    /// Squared correlation with a factor's deviation.
    Linear,
    /// Sobol's total-order index.
    TotalOrder,
}
