//! What counts for most among sets whose boards do as well.

use serde::{Deserialize, Serialize};

/// What shall count for most among sets whose boards do equally well.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Preference {
    /// All in their usual proportion.
    #[default]
    Balanced,
    /// As few different values as can be.
    FewValues,
    /// Resistors near 10 kΩ, capacitors near 4.7 nF, and both close together.
    CalmImpedance,
    /// Figures in the middle of their limits.
    Centred,
}

/// What is preferred for the stages of a loop: each miss takes something off a margin or adds to a peak.
pub const IN_A_LOOP: Preference = Preference::Centred;
