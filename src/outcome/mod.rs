//! Everything found for a design: plain data that the page draws and scripts read.

mod bench;
mod contributions;
mod corners;
mod demands;
mod filter;
mod help;
mod margin_rows;
mod noise;
mod proposals;
mod servo;
mod transfer;
mod whole;

pub use bench::BenchOutcome;
pub use contributions::{
    ContributingFactor, ContributionMethod, ContributionsOutcome, FigureContributions,
};
pub use corners::{CornerBoard, CornersOutcome, FigureCorners};
pub use demands::{DemandsOutcome, Least, NodeLevel, OpAmpDemands, PathOffset, StageOffset};
pub use filter::{FilterOutcome, FilterStage};
pub use help::{ControllerHelp, HelpOutcome, NotchHelp, StageHelp};
pub use margin_rows::{MARGIN_ROWS, MarginRow};
pub use noise::{
    LoopNoise, LoopNoiseShare, NoiseContributor, NoiseDensity, NoiseOutcome, NoiseTotal, PathNoise,
    StageNoiseOutcome, StageShare,
};
pub use proposals::{Effect, Proposal, ProposalsOutcome, Single, TrimOutcome};
pub use servo::{
    Budget, DrawnMode, LoopContribution, LoopOutcome, LoopSpread, MotionOutcome, OtherLowEnd,
    PlantOutcome, ServoOutcome, ShaftOutcome, Shape, Share, SupplyHit, SupplyOutcome, WorstBoard,
};
pub use transfer::{TransferOutcome, ZeroPoleGain};
pub use whole::{WholeHelp, WholeNow};

use serde::{Deserialize, Serialize};

use crate::nullable;
use crate::quantity::{Unit, rounded};
use crate::spread::{Band, Histogram, WidthCurve};
use crate::stages::Drawing;

/// The answer to a [`crate::design::Design`]. Numbers are SI unless a name says otherwise; a figure
/// that does not exist is `null` in JSON and NaN here.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Outcome {
    /// One entry a stage of the path, in its order.
    pub stages: Vec<StageOutcome>,
    /// Which of them the curves and the spread belong to.
    pub shown: usize,
    /// Magnitude and phase of each stage that is not shown, on axes of its own, without group delay and step; none for the
    /// shown one, and empty where there is no other.
    pub unshown: Vec<Option<Curves>>,
    /// The whole path; absent while its stages are still being worked out.
    pub path: Option<PathOutcome>,
    /// What the filter that is asked as a whole takes.
    pub filter: Option<FilterOutcome>,
    /// The shaft's modes, where there is one.
    pub shaft: Option<ShaftOutcome>,
    /// The loop, where there is a plant and it has been worked out.
    pub servo: Option<ServoOutcome>,
    /// The closed loop in time, where the plant has a model.
    pub motion: Option<MotionOutcome>,
    /// Advice that was asked for.
    pub help: Option<HelpOutcome>,
    /// The supply's lines on the plant's modes, where there is a supply and a model.
    pub supply: Option<SupplyOutcome>,
    /// Stages, path, plant and loop as poles, zeros and gains.
    pub transfer: Option<TransferOutcome>,
    /// Noise of the path's parts; absent where the path holds no stage.
    pub noise: Option<NoiseOutcome>,
    /// The path's netlist as text, one element a line; absent for a path of no stages.
    pub netlist: Option<String>,
    /// What the path's signals and its offset demand of the op amps; absent for a path of no stages.
    pub demands: Option<DemandsOutcome>,
    /// The built board against the predicted one, where one was measured.
    pub bench: Option<BenchOutcome>,
    /// Absent while boards are still being drawn.
    pub spread: Option<SpreadOutcome>,
    /// What would change the shown stage's yield; absent while it is being worked out.
    pub proposals: Option<ProposalsOutcome>,
    /// The shown stage's worst case; absent until it is worked out, and where it is not asked for.
    pub corners: Option<CornersOutcome>,
    /// Variance contributions of its parts; absent likewise. Scripts read them as `blame`.
    #[serde(rename = "blame")]
    pub contributions: Option<ContributionsOutcome>,
    /// Other circuits for the shown stage's ask, as far as they are worked out.
    pub others: Vec<OtherOutcome>,
    /// A circuit among them that suits the ask better than the one that is taken.
    pub better: Option<BetterOutcome>,
    /// The loop over boards and plants while it is by itself: in a whole outcome it stands with the loop.
    pub loops: Option<LoopSpread>,
    /// Fields that belong to an earlier design, or are not there yet; none in a whole outcome.
    pub stale: Vec<String>,
}

impl Outcome {
    /// Takes one field, by its name, from an outcome that has nothing else in it.
    pub fn take(&mut self, field: &str, told: Outcome) {
        match field {
            "stages" => (self.stages, self.shown) = (told.stages, told.shown),
            "unshown" => self.unshown = told.unshown,
            "path" => self.path = told.path,
            "filter" => self.filter = told.filter,
            "shaft" => self.shaft = told.shaft,
            "servo" => self.servo = told.servo,
            "motion" => self.motion = told.motion,
            "help" => self.help = told.help,
            "supply" => self.supply = told.supply,
            "netlist" => self.netlist = told.netlist,
            "noise" => self.noise = told.noise,
            "transfer" => self.transfer = told.transfer,
            "bench" => self.bench = told.bench,
            "demands" => self.demands = told.demands,
            "spread" => self.spread = told.spread,
            "loops" => self.loops = told.loops,
            "proposals" => self.proposals = told.proposals,
            "corners" => self.corners = told.corners,
            "blame" => self.contributions = told.contributions,
            "others" => (self.others, self.better) = (told.others, told.better),
            _ => {}
        }
    }

    /// The loop over boards and plants, wherever it stands.
    pub fn loops_over_boards(&self) -> Option<&LoopSpread> {
        let with_loop = self.servo.as_ref().and_then(|servo| servo.spread.as_ref());
        with_loop.or(self.loops.as_ref())
    }

    /// Everything in its place.
    pub fn whole(mut self) -> Outcome {
        if let Some(servo) = &mut self.servo {
            servo.spread = self.loops.take();
        }
        self
    }
}

/// All stages in a row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PathOutcome {
    /// Product of the stages' signs.
    pub sign: i8,
    /// Drawn where there is more than one stage.
    pub curves: Option<Curves>,
    /// What stages do to each other as source and load, which the product of their responses leaves
    /// out: one entry a pair of neighbours.
    pub loadings: Vec<Loading>,
    /// What one board of the path takes, resistors first, each kind in rising values.
    pub buy: Vec<Purchase>,
    /// Op amps of all stages.
    pub op_amps: u32,
}

/// One value to buy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Purchase {
    pub unit: Unit,
    pub value: f64,
    /// Where it goes: the stage's place in the path from 0, and the part's name there.
    pub places: Vec<(usize, String)>,
}

/// What is neglected where one stage drives the next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Loading {
    /// The driving stage's place in the path.
    pub stage: usize,
    /// Largest change of the two stages' magnitude, dB, and of their phase, degrees, over the drawn
    /// frequencies, with the picked parts and the real op amp.
    pub decibel: f64,
    pub degrees: f64,
}

/// Another circuit for the same ask, picked off the same shelf with the same op amp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OtherOutcome {
    pub circuit: String,
    pub title: String,
    /// Whether it is the shown stage's own circuit.
    pub taken: bool,
    /// Why it cannot be had, where it cannot.
    pub reach: Option<String>,
    /// Resistors and capacitors.
    pub parts: u32,
    pub op_amps: u32,
    pub distinct: u32,
    /// What its parts cost a buyer and a bench, in points ([`crate::pick::Bother`]).
    #[serde(with = "nullable")]
    pub points: f64,
    /// Worst miss over its limit.
    #[serde(with = "nullable")]
    pub miss: f64,
    /// Share of boards that hold every limit, and how many were drawn for it: as many as the design has, at most 2000.
    #[serde(rename = "yield", with = "nullable")]
    pub share: f64,
    pub boards: u32,
    /// Attenuation at the asked frequency that 95 % of the boards reach, dB; for what has a null.
    pub worst_depth_db: Option<f64>,
    /// Phase that it costs at the frequency where the view reads it, degrees: without the circuit's sign.
    #[serde(with = "nullable")]
    pub phase_deg: f64,
    /// Least gain-bandwidth with which the ask can still be held, the solved parts solved anew for it, Hz.
    #[serde(with = "nullable")]
    pub gain_bandwidth: f64,
    /// Noise at its output over the design's band, V rms.
    #[serde(with = "nullable")]
    pub noise: f64,
}

/// A circuit that suits an ask better.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BetterOutcome {
    pub circuit: String,
    /// Which, and why, in one sentence.
    pub told: String,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StageOutcome {
    pub circuit: String,
    pub title: String,
    pub summary: String,
    pub sources: Vec<String>,
    /// Sign of the passband gain.
    pub sign: i8,
    /// What is bought, in the netlist's order.
    pub parts: Vec<PartOutcome>,
    /// What it works between: parts that stand for a source or a load.
    pub given: Vec<GivenPart>,
    pub op_amps: u32,
    pub drawing: Drawing,
    pub figures: Vec<FigureOutcome>,
    /// Best first; the first twelve next-best follow.
    pub picks: Vec<PickOutcome>,
    /// Position in `picks` of the set that all else describes.
    pub choice: usize,
    /// Drawn for the shown stage.
    pub curves: Option<Curves>,
    #[serde(with = "crate::tagged")]
    pub notes: Vec<Note>,
}

/// A part that is there and not bought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GivenPart {
    pub name: String,
    pub unit: Unit,
    pub value: f64,
}

/// A part of the bill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartOutcome {
    pub name: String,
    pub unit: Unit,
    /// What would meet the ask best with the other kinds of parts as bought.
    pub exact: f64,
    /// What is bought.
    pub value: f64,
    /// Bought over exact, less 1.
    pub miss: f64,
    pub tolerance: f64,
    pub pinned: bool,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureOutcome {
    pub name: String,
    pub label: String,
    pub meaning: String,
    pub unit: Unit,
    /// With the bought parts and the real op amp.
    #[serde(with = "nullable")]
    pub value: f64,
    /// With the bought parts and an ideal op amp.
    #[serde(with = "nullable")]
    pub ideal: f64,
    /// What was asked, where something was.
    pub wanted: Option<f64>,
    /// What a good board needs, where something is needed.
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
}

impl FigureOutcome {
    /// What was asked of it, in words; nothing where nothing was.
    pub fn required(&self) -> String {
        match (self.wanted, self.lowest, self.highest) {
            (Some(wanted), ..) => rounded(wanted, self.unit, 6),
            (None, Some(lowest), None) => format!("≥ {}", rounded(lowest, self.unit, 6)),
            (None, None, Some(highest)) => format!("≤ {}", rounded(highest, self.unit, 6)),
            _ => String::new(),
        }
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PickOutcome {
    /// Values in the order of the stage's `parts`.
    pub values: Vec<f64>,
    /// Worst miss over its limit; 1 is on the limit.
    pub miss: f64,
    /// Estimated share of boards that hold every limit, from the shelf's tolerances alone: what picks are ordered by.
    pub share: f64,
    /// How many different values have to be bought.
    pub distinct: u32,
    /// What it trades away against the best one, in words.
    pub trade: String,
}

/// Curves on common axes.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Curves {
    /// Hz, rising, closer where the curves bend.
    pub frequency: Vec<f64>,
    /// s, equal steps from 0.
    pub time: Vec<f64>,
    /// Exact parts, ideal op amp.
    pub ask: Curve,
    /// Bought parts, ideal op amp.
    pub ideal: Curve,
    /// Bought parts, real op amp.
    pub real: Curve,
}

#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    pub magnitude_db: Vec<f64>,
    /// From −180 to 180.
    pub phase_deg: Vec<f64>,
    /// s
    pub delay: Vec<f64>,
    /// Answer to a unit step, over `time`.
    pub step: Vec<f64>,
}

/// Something to tell the user about the result.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "text", rename_all = "kebab-case")]
pub enum Note {
    /// The ask is out of this circuit's reach, why, and what would bring it back.
    Reach(String),
    /// What the trade knows of this circuit at this ask.
    Advice(String),
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpreadOutcome {
    pub boards: u32,
    /// Whether figures and yield are as stable as was asked; absent where a number of boards was.
    pub stable: Option<bool>,
    /// The bands are of so many boards, the first.
    pub band_boards: u32,
    /// The first boards, one by one.
    pub sample: Sample,
    /// The first boards that miss a limit of the shown stage, by their numbers from 0.
    pub bad: Vec<u32>,
    /// Hz
    pub frequency: Vec<f64>,
    pub magnitude_db: Band,
    pub phase_deg: Band,
    /// Of group delay and step; absent where the shown stage has no curves.
    pub slow: Option<SlowBand>,
    pub figures: Vec<FigureSpread>,
    /// Boards on which the shown stage holds its limits.
    #[serde(rename = "yield")]
    pub share: Yield,
    /// The whole path, where it is more than one stage.
    pub path: Option<PathSpread>,
}

impl SpreadOutcome {
    /// Boards on which every stage holds its limits.
    pub fn of_all_stages(&self) -> &Yield {
        self.path.as_ref().map_or(&self.share, |path| &path.share)
    }
}

/// What is worked out board by board, and so of a few boards.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SlowBand {
    /// How many, the first.
    pub boards: u32,
    /// s, over the spread's frequencies.
    pub delay: Band,
    /// Over the time of the curves.
    pub step: Band,
}

/// Boards one by one: `values[figure][board]`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Sample {
    pub good: Vec<bool>,
    pub values: Vec<Vec<f64>>,
}

/// One board of the spread, built again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardOutcome {
    /// From 0.
    pub number: u32,
    /// What strayed from what is marked, op amps included.
    pub parts: Vec<BoardPart>,
    /// Values of the shown stage's figures, and whether each holds its limits.
    pub figures: Vec<f64>,
    pub holds: Vec<bool>,
    /// Over the spread's frequencies.
    pub magnitude_db: Vec<f64>,
    pub phase_deg: Vec<f64>,
}

/// One number of a board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardPart {
    pub label: String,
    pub unit: Unit,
    pub value: f64,
    pub marked: f64,
}

/// Every part of every stage drawn together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PathSpread {
    pub magnitude_db: Band,
    pub phase_deg: Band,
    pub slow: Option<SlowBand>,
    /// Boards on which every stage holds its limits.
    #[serde(rename = "yield")]
    pub share: Yield,
    /// Share of boards on which each stage holds its own.
    pub stages: Vec<f64>,
}

/// One figure over all boards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureSpread {
    pub name: String,
    pub label: String,
    pub unit: Unit,
    /// The 5 %, 50 % and 95 % quantiles; NaN where no board can be read.
    #[serde(with = "nullable::three")]
    pub quantiles: [f64; 3],
    #[serde(with = "nullable")]
    pub least: f64,
    #[serde(with = "nullable")]
    pub most: f64,
    pub histogram: Histogram,
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
    /// Share of the boards that hold this figure's limits, where it has some.
    pub held: Option<f64>,
    /// Boards on which the figure could not be read.
    pub unreadable: u32,
    /// The yield against the width of this figure's limits, where it has some.
    pub widths: Option<WidthCurve>,
}

/// Share of boards that hold every limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Yield {
    pub passed: u32,
    pub fraction: f64,
    /// Ends of the interval at `level`.
    pub low: f64,
    pub high: f64,
    pub level: f64,
    /// The interval's name.
    pub method: String,
}
