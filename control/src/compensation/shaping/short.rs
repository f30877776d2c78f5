//! How far parts off the shelf fall short of a wanted loop.

use super::ShapeWish;

/// Why parts off the shelf do not make the wanted loop, and what would.
#[derive(Clone, Debug, PartialEq)]
pub struct BuiltShort {
    pub wish: ShapeWish,
    /// Hz.
    pub gain_bandwidth: f64,
    /// Phase margin and |L| (dB) at the wanted crossover with the stages that came nearest; none where no
    /// parts could be picked.
    pub nearest: Option<(f64, f64)>,
    /// The gain-bandwidth that would do, all other stages left as they are, the first of its series (E6), Hz.
    pub enough: Option<f64>,
    /// The crossover that would do with this op amp, Hz.
    pub lower: Option<f64>,
}
