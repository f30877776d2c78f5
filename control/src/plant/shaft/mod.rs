//! Where modes come from: torsion and bending of a stepped shaft, and chains of inertias.
//!
//! Small vibrations without damping. What is found is a first guess of where a plant's modes lie; joints,
//! bearings and what is screwed to a shaft move them.

mod beam;
pub mod bounds;
mod chain;
mod check;
mod edit;
mod eigen;
mod elements;
mod material;
mod modes;
mod torsion;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::tagged;

pub use check::check;
pub use material::{MATERIALS, Material};
pub use modes::{MOST_MODES, ShapedMode, modes};

/// What vibrates, and how.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Shaft {
    /// A stepped shaft twists: the one-dimensional wave equation.
    Torsion {
        /// From left to right, 1 to 12.
        segments: Vec<Segment>,
        /// Discs at the left end, the junctions and the right end, kg·m², 0 where there is none: one more
        /// than there are segments.
        inertias: Vec<f64>,
        /// Left and right.
        ends: [TorsionEnd; 2],
    },
    /// A stepped shaft bends, as slender beams do (Euler and Bernoulli): shear and the turning of its own
    /// cross-sections are left out, so that frequencies come out too high where a mode's half-wave is not
    /// many times as long as the shaft is thick.
    Bending {
        /// From left to right, 1 to 12.
        segments: Vec<Segment>,
        /// Point masses at the left end, the junctions and the right end, kg, 0 where there is none: one
        /// more than there are segments.
        masses: Vec<f64>,
        /// Left and right.
        ends: [BendingEnd; 2],
    },
    /// Rigid inertias joined by springs without mass.
    Chain {
        /// kg·m², 1 to 24.
        inertias: Vec<f64>,
        /// Between neighbours, N·m/rad: one fewer than there are inertias.
        springs: Vec<f64>,
        /// From the first and from the last inertia to ground, N·m/rad, 0 where there is none.
        ground: [f64; 2],
    },
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "Shaft", rename_all = "kebab-case", deny_unknown_fields)]
enum Outside {
    Torsion {
        segments: Vec<Segment>,
        inertias: Vec<f64>,
        ends: [TorsionEnd; 2],
    },
    Bending {
        segments: Vec<Segment>,
        masses: Vec<f64>,
        ends: [BendingEnd; 2],
    },
    Chain {
        inertias: Vec<f64>,
        springs: Vec<f64>,
        ground: [f64; 2],
    },
}

impl<'de> Deserialize<'de> for Shaft {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Shaft, D::Error> {
        let tree = tagged::outside(deserializer, "kind")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

/// A piece of a shaft with one cross-section, a ring or a full circle.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Segment {
    /// m.
    pub length: f64,
    /// m.
    pub outer_diameter: f64,
    /// m, 0 for a full shaft.
    #[serde(default)]
    pub inner_diameter: f64,
    pub material: Material,
}

/// How the end of a twisting shaft is held.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TorsionEnd {
    Free,
    Fixed,
}

/// How the end of a bending shaft is held.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BendingEnd {
    Free,
    /// Held in place, free to tilt.
    Pinned,
    /// Held in place and not free to tilt.
    Clamped,
}

impl Segment {
    /// Area of the cross-section, m².
    fn area(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * (self.outer_diameter.powi(2) - self.inner_diameter.powi(2))
    }

    /// Second moment of the cross-section about a diameter, m⁴; about the axis it is twice as large.
    fn second_moment(&self) -> f64 {
        std::f64::consts::PI / 64.0 * (self.outer_diameter.powi(4) - self.inner_diameter.powi(4))
    }
}

impl Default for Shaft {
    /// Two rotors on a steel shaft of 6 mm by 80 mm, twisting.
    fn default() -> Shaft {
        Shaft::Torsion {
            segments: vec![Segment {
                length: 0.08,
                outer_diameter: 0.006,
                inner_diameter: 0.0,
                material: Material::STEEL,
            }],
            inertias: vec![2e-6, 5e-6],
            ends: [TorsionEnd::Free; 2],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shaft_is_plain_data() {
        let text = serde_json::to_string(&Shaft::default()).expect("JSON");
        assert_eq!(
            serde_json::from_str::<Shaft>(&text).expect("a shaft"),
            Shaft::default()
        );
        let more = text.replacen("\"kind\"", "\"colour\":1,\"kind\"", 1);
        assert!(serde_json::from_str::<Shaft>(&more).is_err());
    }
}
