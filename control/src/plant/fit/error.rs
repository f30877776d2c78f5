//! What keeps a sweep from being fitted, as sentences.

use crate::plant::sweep::frequencies;

/// Why a fit cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Too few points for what is to be found.
    #[error(
        "At least {needed} points are needed for {parameters} unknowns; the sweep has {points} to fit."
    )]
    Points {
        points: usize,
        needed: usize,
        parameters: usize,
    },
    /// Frequencies that are no sweep.
    #[error(
        "The sweep's frequencies must ascend and lie {}; point {number} is at {frequency} Hz.",
        frequencies()
    )]
    Frequency { number: usize, frequency: f64 },
    /// A response that is no number, or beyond all measure.
    #[error("The sweep's responses must be numbers below 1e60; that at {0} Hz is not.")]
    Response(f64),
    /// Nothing but zeros.
    #[error("The sweep's responses are 0 at most of its points; there is nothing to fit.")]
    Silent,
    /// A range upside down.
    #[error(
        "The range to fit must have its lower end below its upper one; they are {from} Hz and {to} Hz."
    )]
    Range { from: f64, to: f64 },
    /// A start or a setting outside what can be worked on.
    #[error("{0}")]
    Setting(String),
}
