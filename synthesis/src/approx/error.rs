//! What keeps a filter from being found, as sentences.

/// Why an approximation, a band or a requirement cannot be worked on.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ApproxError {
    /// An order outside what can be designed.
    #[error("The order must lie between 1 and {most}; it is {order}.")]
    Order { order: usize, most: usize },
    /// A ripple outside what can be designed.
    #[error("The ripple must lie between 0.000001 dB and 12 dB; it is {0} dB.")]
    Ripple(f64),
    /// An attenuation outside what can be designed.
    #[error("The stopband attenuation must lie between 1 dB and 200 dB; it is {0} dB.")]
    Attenuation(f64),
    /// Pass band and stop band ask for almost the same level.
    #[error(
        "The stopband attenuation must be at least 1 dB above the ripple; they are {stop_db} dB and \
         {ripple_db} dB."
    )]
    Levels { ripple_db: f64, stop_db: f64 },
    /// A frequency outside what can be designed.
    #[error("A band edge must lie between 1 µHz and 1 THz; it is {0} Hz.")]
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
