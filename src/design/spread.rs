//! How parts stray, and how many boards are drawn.

use serde::{Deserialize, Serialize};

use crate::spread::{Distribution, Law};

/// How boards are drawn.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SpreadDesign {
    /// How many; at most so many where the run stops by itself.
    pub boards: u32,
    pub stop: Stop,
    /// To how many significant digits of a figure's standard deviation the figures shall be stable, where
    /// the run stops by itself: 1 or 2.
    pub digits: u32,
    /// To within what share the yield shall be stable then.
    pub yield_within: f64,
    /// Where the random numbers begin: the same seed draws the same boards.
    pub seed: u64,
    /// Boards work up to this many kelvins above or below the temperature at which parts are measured.
    pub temperature_span: f64,
    /// The share of good boards that is wanted.
    pub wanted: f64,
    /// The share of boards that a trimmer shall bring to where a figure is wanted.
    pub trimmed: f64,
    pub resistors: KindSpread,
    pub capacitors: KindSpread,
    pub op_amps: OpAmpSpread,
    /// Parts in one package, whose ratios hold better than their values.
    pub networks: Vec<Network>,
}

/// When enough boards are drawn.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// After the stated number.
    #[default]
    Fixed,
    /// When figures and yield are stable (JCGM 101:2008, 7.9).
    Stable,
}

/// How all parts of a kind stray, besides the tolerance and tempco of their bin.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct KindSpread {
    pub law: Law,
    /// How many standard deviations the tolerance is, for the normal law.
    pub sigmas: f64,
    /// Share of the tolerance within which no part lies, because better ones were sorted out.
    pub hole: f64,
    /// Share of each part's deviation and drift that all of the kind on a board have in common.
    pub lot: f64,
    /// Largest change over the product's life, a fraction.
    pub ageing: f64,
}

/// How op amps stray.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct OpAmpSpread {
    /// How op amps lie within their limits.
    pub law: Law,
    /// How many standard deviations the limits are, for the normal law.
    pub sigmas: f64,
    /// Share of the deviation that all op amps of a board have in common.
    pub lot: f64,
    /// Largest deviation of the gain-bandwidth, a fraction.
    pub gain_bandwidth: f64,
    /// Largest deviation of the open-loop gain, dB.
    pub gain_db: f64,
}

/// How one part strays, where it differs from its kind.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PartSpread {
    /// Largest deviation from its value, a fraction.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<f64>,
    /// Largest drift, a fraction per kelvin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tempco: Option<f64>,
    /// Largest drift over its life, a fraction.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ageing: Option<f64>,
    /// How it lies within its tolerance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub law: Option<Law>,
    /// How many standard deviations its tolerance is, for the normal law.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sigmas: Option<f64>,
    /// Parts closer to their value than this were sorted out for a tighter grade, a fraction.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hole: Option<f64>,
    /// The network that it belongs to, by its number from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub network: Option<usize>,
}

/// Parts of one package. Its absolute tolerance and tempco are the parts' own.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Network {
    /// Largest deviation of the ratio of any two of them, a fraction.
    pub ratio_tolerance: f64,
    /// Largest drift of that ratio, a fraction per kelvin.
    pub ratio_tempco: f64,
}

impl Default for SpreadDesign {
    fn default() -> SpreadDesign {
        SpreadDesign {
            boards: 10_000,
            stop: Stop::Fixed,
            digits: 2,
            yield_within: 0.005,
            seed: 1,
            temperature_span: 10.0,
            wanted: 0.95,
            trimmed: 0.98,
            resistors: KindSpread::default(),
            capacitors: KindSpread::default(),
            op_amps: OpAmpSpread::default(),
            networks: Vec::new(),
        }
    }
}

impl Default for KindSpread {
    fn default() -> KindSpread {
        KindSpread {
            law: Law::Uniform,
            sigmas: 3.0,
            hole: 0.0,
            lot: 0.0,
            ageing: 0.0,
        }
    }
}

impl Default for OpAmpSpread {
    /// Data sheets state a typical gain-bandwidth; a third to either side is common practice.
    fn default() -> OpAmpSpread {
        OpAmpSpread {
            law: Law::Uniform,
            sigmas: 3.0,
            lot: 0.0,
            gain_bandwidth: 0.3,
            gain_db: 6.0,
        }
    }
}

impl Default for Network {
    fn default() -> Network {
        Network {
            ratio_tolerance: 0.001,
            ratio_tempco: 5e-6,
        }
    }
}

impl KindSpread {
    pub fn distribution(&self) -> Distribution {
        Distribution {
            law: self.law,
            sigmas: self.sigmas,
            hole: self.hole,
        }
    }
}

impl OpAmpSpread {
    pub fn distribution(&self) -> Distribution {
        Distribution {
            law: self.law,
            sigmas: self.sigmas,
            hole: 0.0,
        }
    }
}

impl PartSpread {
    /// Whether it says nothing.
    pub fn is_empty(&self) -> bool {
        *self == PartSpread::default()
    }

    /// How this part lies within its tolerance, among others of its kind.
    pub fn distribution(&self, kind: &KindSpread) -> Distribution {
        Distribution {
            law: self.law.unwrap_or(kind.law),
            sigmas: self.sigmas.unwrap_or(kind.sigmas),
            hole: self.hole.unwrap_or(kind.hole),
        }
    }
}
