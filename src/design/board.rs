//! What a board works with: rails, temperature, the largest signal, and the band in which its noise counts.

use serde::{Deserialize, Serialize};

/// What a board is supplied with, and how warm it is.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Conditions {
    /// The op amps' positive supply, V.
    pub positive_rail: f64,
    /// Their negative supply, V; 0 where there is one supply alone.
    pub negative_rail: f64,
    /// At which noise is worked out, °C.
    pub temperature: f64,
}

/// The band over which noise is added up.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NoiseBand {
    /// Hz.
    pub from: f64,
    /// Hz.
    pub to: f64,
}

/// The largest sine at the path's input at one frequency. Between two of them the amplitude goes along a straight line on
/// logarithmic axes.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SignalPoint {
    /// Hz.
    pub frequency: f64,
    /// Peak, V.
    pub amplitude: f64,
}

impl Default for Conditions {
    fn default() -> Conditions {
        Conditions {
            positive_rail: 15.0,
            negative_rail: -15.0,
            temperature: 25.0,
        }
    }
}

impl Default for NoiseBand {
    fn default() -> NoiseBand {
        NoiseBand {
            from: 10.0,
            to: 100e3,
        }
    }
}

impl Default for SignalPoint {
    fn default() -> SignalPoint {
        SignalPoint {
            frequency: 1e3,
            amplitude: 1.0,
        }
    }
}

impl Conditions {
    /// The temperature, K.
    pub fn kelvin(&self) -> f64 {
        self.temperature + 273.15
    }
}

impl SignalPoint {
    /// Most points of a signal.
    pub const MOST: usize = 12;

    /// What a design begins with: 1 V from 10 Hz to 10 kHz.
    pub fn usual() -> Vec<SignalPoint> {
        [10.0, 10e3]
            .map(|frequency| SignalPoint {
                frequency,
                amplitude: 1.0,
            })
            .to_vec()
    }
}
