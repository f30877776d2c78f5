//! The op amp as a part of a circuit: what of its data sheet decides a response.

use std::collections::BTreeMap;

/// A voltage-feedback op amp with one dominant pole (Franco, "Design with Operational Amplifiers",
/// ch. 6): `A(s) = 1/(1/A0 + s/(2π·GBW))` behind an output resistance.
///
/// The ideal op amp is the limit `1/A0 = 0`, `1/GBW = 0`, `Ro = 0` of the same model, and is
/// reached exactly because the program only ever uses the inverses.
#[derive(Clone, Debug, PartialEq)]
pub struct OpAmp {
    /// Open-loop gain at DC, dB.
    pub gain_db: f64,
    /// Gain-bandwidth product, Hz.
    pub gain_bandwidth: f64,
    /// Open-loop output resistance, Ω.
    pub output_resistance: f64,
}

/// The op amps of a stage.
#[derive(Clone, Debug, PartialEq)]
pub struct OpAmps {
    /// All that are not named.
    pub usual: OpAmp,
    /// By designator.
    pub own: BTreeMap<String, OpAmp>,
}

impl OpAmp {
    /// The limit that textbooks use. Not a value a user can type; its infinite fields stay inside.
    pub const IDEAL: OpAmp = OpAmp {
        gain_db: f64::INFINITY,
        gain_bandwidth: f64::INFINITY,
        output_resistance: 0.0,
    };

    /// `[1/A0, 1/GBW (s), Ro (Ω)]`, the order in which [`crate::circuit::Program`] takes an op amp.
    pub fn values(&self) -> [f64; 3] {
        [
            10f64.powf(-self.gain_db / 20.0),
            1.0 / self.gain_bandwidth,
            self.output_resistance,
        ]
    }
}

impl OpAmps {
    /// The op amp with this designator.
    pub fn of(&self, designator: &str) -> &OpAmp {
        self.own.get(designator).unwrap_or(&self.usual)
    }
}

impl From<OpAmp> for OpAmps {
    fn from(usual: OpAmp) -> OpAmps {
        OpAmps {
            usual,
            own: BTreeMap::new(),
        }
    }
}
