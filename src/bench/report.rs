//! What the bench found, as data.

use serde::{Deserialize, Serialize};

use super::band::BandVerdict;
use super::cause::{Cause, PartAt};
use super::repair::{FigureValue, Repair, RepairVerdict};
use crate::quantity::Unit;

/// A cause, and how likely it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Likely {
    pub cause: Cause,
    /// From 0 to 1.
    pub probability: f64,
    /// Most probable deviation of the part that is outside, from its marked value, or of the measurement's gain from 1, and
    /// its standard deviation, both relative; none of other causes.
    pub deviation: Option<(f64, f64)>,
    /// The cause in words.
    pub words: String,
}

/// What is said of the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// All parts within their tolerances explain the measurement.
    Healthy,
    /// It may be healthy, or have one of the causes named: this measurement does not decide.
    Undecided,
    /// One cause is clearly the likeliest.
    Found,
    /// The board is ill, or its measurement; which of the causes named it is, this measurement cannot tell.
    OneOf,
    /// Nothing that was thought of explains the measurement.
    Unexplained,
}

/// A number of the board with its most probable value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartValue {
    pub at: PartAt,
    /// What is told of an op amp; nothing of other parts.
    pub what: Option<OpAmpNumber>,
    pub unit: Unit,
    /// As marked, and as most probable, SI.
    pub marked: f64,
    pub value: f64,
    /// From the marked value to the most probable one, relative, and its standard deviation.
    pub deviation: f64,
    pub standard_deviation: f64,
    /// How far it may be off, relative.
    pub tolerance: f64,
    /// Whether this measurement tells anything of it: its standard deviation is clearly below what its tolerance
    /// alone leaves.
    pub is_measured: bool,
}

/// A number of an op amp.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OpAmpNumber {
    OpenLoopGain,
    GainBandwidth,
}

/// How likely it is that a block is what is ill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockShare {
    /// Place of the stage in the path; none for what lies behind the stages.
    pub stage: Option<usize>,
    pub name: String,
    pub probability: f64,
}

/// All that was found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Where the measurement lies among the boards that might be built.
    pub band: BandVerdict,
    pub verdict: Verdict,
    /// Probability that all parts are within their tolerances and the measurement is right.
    pub healthy: f64,
    /// The causes that cannot be told apart: together they have 95 % of what is probable, the likeliest first.
    pub causes: Vec<Likely>,
    /// Which part it is where one alone deviates, within its tolerance or not: those that cannot be told apart, the
    /// likeliest first.
    pub suspects: Vec<Likely>,
    /// Values of all parts under the likeliest cause.
    pub parts: Vec<PartValue>,
    /// Parts whose deviations look alike in this measurement.
    pub alike: Vec<Vec<PartAt>>,
    /// Parts that this measurement does not see.
    pub unseen: Vec<PartAt>,
    /// How likely each block is what is ill.
    pub blocks: Vec<BlockShare>,
    /// By how much the measurement's own gain is off, relative, and the standard deviation of that; where that is likelier
    /// than not.
    pub gain: Option<(f64, f64)>,
    /// Noise of a point relative to its magnitude, one standard deviation.
    pub noise: f64,
    /// How much larger the errors are that the likeliest cause leaves than the noise, as a ratio of standard deviations.
    pub misfit: f64,
    pub repair: RepairVerdict,
    /// What brings the figures home, the best one first.
    pub repairs: Vec<Repair>,
    /// The figures as the board has them now, if the measurement's gain is right or that it is not is the likeliest cause.
    pub figures: Vec<FigureValue>,
}
