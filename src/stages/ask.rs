//! What a stage can be asked for: families of asks that several circuits may answer.

use serde::{Deserialize, Serialize};

/// What is wanted, with how far it may stray. One variant a family.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "family", rename_all = "kebab-case")]
pub enum Ask {
    Notch(NotchAsk),
}

impl Ask {
    /// The frequency (Hz) round which everything about this ask happens.
    pub fn frequency(&self) -> f64 {
        match self {
            Ask::Notch(notch) => notch.frequency,
        }
    }
}

/// How deep a notch is wanted at its deepest point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Depth {
    /// So many decibels below 0 dB, no more and no less.
    Decibel(f64),
    /// As deep as parts allow (JSON `null`).
    FullNull(()),
}

impl Depth {
    /// |H| wanted at the deepest point.
    pub fn gain(self) -> f64 {
        match self {
            Depth::Decibel(db) => 10f64.powf(-db / 20.0),
            Depth::FullNull(()) => 0.0,
        }
    }
}

/// A notch: quiet one frequency, leave the rest alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NotchAsk {
    /// Frequency of the deepest point, Hz.
    pub frequency: f64,
    /// Notch frequency over the width between the −3 dB edges.
    pub q: f64,
    /// Depth at the deepest point.
    pub depth: Depth,
    /// The frequency may miss by this fraction, either way.
    pub frequency_limit: f64,
    /// The Q may miss by this fraction, either way.
    pub q_limit: f64,
    /// Attenuation at the asked frequency must be at least this, dB.
    pub least_depth: f64,
}

impl Default for NotchAsk {
    /// The demo: the first structural mode of an invented microscope focus stage.
    fn default() -> NotchAsk {
        NotchAsk {
            frequency: 2350.0,
            q: 2.0,
            depth: Depth::FullNull(()),
            frequency_limit: 0.05,
            q_limit: 0.1,
            least_depth: 18.0,
        }
    }
}
