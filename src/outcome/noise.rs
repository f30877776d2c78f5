//! What is found of noise.

use serde::{Deserialize, Serialize};

use crate::noise::{Level, NoiseKind};
use crate::plant::NumberUnits;

/// Noise of the path's parts. Densities are V/√Hz.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseOutcome {
    /// The band over which it is added up, Hz.
    pub from: f64,
    pub to: f64,
    /// The resistors' temperature, K.
    pub kelvin: f64,
    /// At each stage's own output, its input grounded.
    pub stages: Vec<StageNoiseOutcome>,
    /// At the path's output.
    pub path: PathNoise,
    /// What it does to drive and position, where there is a plant.
    #[serde(rename = "loop")]
    pub looped: Option<LoopNoise>,
}

/// Noise of one stage at its own output.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StageNoiseOutcome {
    pub density: NoiseDensity,
    /// Of the resistors alone.
    pub thermal: Vec<f64>,
    /// Over the band.
    pub total: NoiseTotal,
    /// Largest allowed, V rms, where it matters.
    pub limit: Option<f64>,
    /// What its level of impedance costs; none without a resistor.
    pub level: Option<Level>,
    /// Most first.
    pub contributors: Vec<NoiseContributor>,
}

/// Noise over frequency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseDensity {
    /// Hz, rising, closer where responses bend.
    pub frequency: Vec<f64>,
    /// At the output.
    pub output: Vec<f64>,
    /// The same over |H|: what a noise at the input would have to be. None where the gain is below a thousandth of its
    /// largest in the band, as in a notch's null.
    pub input: Vec<Option<f64>>,
}

/// Noise over the band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseTotal {
    /// At the output, V rms.
    pub rms: f64,
    /// Largest |H| in the band, and where, Hz.
    pub gain: f64,
    pub gain_at: f64,
    /// The rms over that gain: a sine at the input there that is as large at the output, V rms; none without a gain.
    pub input_rms: Option<f64>,
}

/// What one part adds at the stage's output.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseContributor {
    pub part: String,
    pub kind: NoiseKind,
    /// Over the band, V rms.
    pub rms: f64,
    /// Of the mean square.
    pub share: f64,
    /// Of the largest few, over the stage's frequencies; else empty.
    pub density: Vec<f64>,
}

impl NoiseContributor {
    /// Its kind in words.
    pub fn words(&self) -> &'static str {
        match self.kind {
            NoiseKind::Thermal => "thermal noise",
            NoiseKind::Voltage => "voltage noise",
            NoiseKind::Current => "current noise",
        }
    }
}

/// Noise at the path's output: each stage's through all that stand behind it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PathNoise {
    pub density: NoiseDensity,
    pub total: NoiseTotal,
    /// In the path's order.
    pub stages: Vec<StageShare>,
}

/// What one stage adds at the path's output.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StageShare {
    /// Over the band, V rms.
    pub rms: f64,
    /// Of the mean square.
    pub share: f64,
    /// Over the path's frequencies.
    pub density: Vec<f64>,
}

/// What the path's noise does round the loop. A sensor's own noise, and the amplifier's, are not in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopNoise {
    /// Why there is none: a loop that is not stable has no rms.
    pub why: Option<String>,
    /// Whether the plant is the sweep, for want of a model.
    pub is_measured: bool,
    /// The band: the design's, as far as the plant is known, Hz.
    pub from: f64,
    pub to: f64,
    /// Hz, rising.
    pub frequency: Vec<f64>,
    /// At the plant's input, in its unit over √Hz.
    pub drive: Vec<f64>,
    /// At the plant's output, in its unit over √Hz.
    pub position: Vec<f64>,
    /// Over the band, rms.
    pub drive_rms: f64,
    pub position_rms: f64,
    /// In the path's order.
    pub stages: Vec<LoopNoiseShare>,
    /// Units of these, by their names here; the densities' over √Hz.
    pub units: NumberUnits,
}

/// What one stage's noise does round the loop, over the band, rms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopNoiseShare {
    pub drive_rms: f64,
    pub position_rms: f64,
}
