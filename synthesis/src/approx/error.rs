//! What keeps a filter from being found, as sentences.

use crate::quantity::{Unit, exact};

/// Ripples that can be designed, dB.
pub(super) const RIPPLES: (f64, f64) = (1e-6, 12.0);
/// Attenuations of a stop band, dB.
pub(super) const ATTENUATIONS: (f64, f64) = (1.0, 200.0);
/// Edges of bands, Hz.
pub(super) const EDGES: (f64, f64) = (1e-6, 1e12);

/// Why an approximation, a band or a requirement cannot be worked on.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ApproxError {
    /// An order outside what can be designed.
    #[error("The order must lie between 1 and {most}; it is {order}.")]
    Order { order: usize, most: usize },
    /// A ripple outside what can be designed.
    #[error("The ripple must lie between {} dB and {} dB; it is {} dB.", RIPPLES.0, RIPPLES.1, .0)]
    Ripple(f64),
    /// An attenuation outside what can be designed.
    #[error(
        "The stopband attenuation must lie between {} dB and {} dB; it is {} dB.",
        ATTENUATIONS.0,
        ATTENUATIONS.1,
        .0
    )]
    Attenuation(f64),
    /// Pass band and stop band ask for almost the same level.
    #[error(
        "The stopband attenuation must be at least 1 dB above the ripple; they are {stop_db} dB and \
         {ripple_db} dB."
    )]
    Levels { ripple_db: f64, stop_db: f64 },
    /// A frequency outside what can be designed.
    #[error(
        "A band edge must lie between {} and {}; it is {} Hz.",
        exact(EDGES.0, Unit::Hertz),
        exact(EDGES.1, Unit::Hertz),
        .0
    )]
    Edge(f64),
    /// A band upside down.
    #[error("The lower edge must lie below the upper one; they are {low} Hz and {high} Hz.")]
    Band { low: f64, high: f64 },
    /// The pass band and the stop band overlap.
    #[error("{0}")]
    Edges(&'static str),
    /// Pass band and stop band of different kinds.
    #[error("The passband and the stopband must be of the same kind.")]
    Kinds,
    /// No order that can be designed is enough.
    #[error(
        "The requirement needs an order above {most}; widen the gap between the edges, or allow more \
         ripple or less attenuation."
    )]
    TooSteep { most: usize },
    /// A gain that no chain of sections can have.
    #[error("The gain must be a finite number other than 0; it is {0}.")]
    Gain(f64),
    /// Roots that no chain of these sections can have.
    #[error("{0}")]
    Roots(&'static str),
}
