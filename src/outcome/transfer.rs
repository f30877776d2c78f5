//! Transfer functions as plain numbers.

use serde::{Deserialize, Serialize};

use super::nullable;

/// Poles, zeros and gains of all that stands in the loop, with the bought parts and the real op amp.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TransferOutcome {
    /// The path's stages, in its order.
    pub stages: Vec<ZeroPoleGain>,
    /// All of them in a row.
    pub path: ZeroPoleGain,
    /// The plant's model, where it has one: output per input.
    pub plant: Option<ZeroPoleGain>,
    /// The loop cut open, with the sign of the summing point: negative feedback closes it.
    #[serde(rename = "loop")]
    pub open_loop: Option<ZeroPoleGain>,
}

/// `H(s) = gain · Π(s − zero) / Π(s − pole) · e^(−s·delay)`, s in rad/s: the form that SciPy and others call
/// zero-pole-gain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZeroPoleGain {
    /// `[re, im]` in rad/s; those that are not real stand beside their conjugates.
    pub zeros: Vec<[f64; 2]>,
    pub poles: Vec<[f64; 2]>,
    /// Null where it is beyond double precision, which the product of many stages may be.
    #[serde(with = "nullable")]
    pub gain: f64,
    /// s
    pub delay: f64,
}

impl Default for ZeroPoleGain {
    /// A gain of 1.
    fn default() -> ZeroPoleGain {
        ZeroPoleGain {
            zeros: Vec::new(),
            poles: Vec::new(),
            gain: 1.0,
            delay: 0.0,
        }
    }
}
