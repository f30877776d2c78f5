//! What is found for the loop.

use serde::{Deserialize, Serialize};

use super::{FigureSpread, Yield};
use crate::design::LoopAsk;
use crate::feedback::{ErrorConstants, Margins, Motion};
use crate::plant::{Antiresonance, Fitted, LowEnd, Model, NumberUnits, Peak};
use crate::supply::{Hit, Line, ModeBand, Passage};

/// The plant and the loop round it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ServoOutcome {
    pub plant: PlantOutcome,
    /// What the loop must keep, as it was asked.
    pub asked: LoopAsk,
    /// With the plant as it was measured, over the measured frequencies.
    pub measured: Option<LoopOutcome>,
    /// With the plant's model.
    pub modelled: Option<LoopOutcome>,
    /// What each stage, the model and its delay add to the phase at the crossover.
    pub budget: Option<Budget>,
    /// Boards and plants drawn together; absent while they are still being drawn, and without a model.
    pub spread: Option<LoopSpread>,
    /// What is wrong with the loop, loudest first.
    pub warnings: Vec<String>,
}

impl ServoOutcome {
    /// The loop with the plant's model, or as measured where there is none.
    pub fn closed(&self) -> Option<&LoopOutcome> {
        self.modelled.as_ref().or(self.measured.as_ref())
    }
}

/// The closed loop in time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MotionOutcome {
    /// Its samples thinned for drawing.
    pub answer: Option<Motion>,
    /// Why there is none.
    pub why: Option<String>,
    pub constants: Option<ErrorConstants>,
    /// The same for other low ends of the plant that the sweep does not exclude.
    pub otherwise: Vec<OtherLowEnd>,
    /// The system's type and what it leaves of step, ramp and parabola, in sentences.
    pub told: Vec<String>,
    /// Units of positions, errors and drives, by their names here.
    pub units: NumberUnits,
}

impl MotionOutcome {
    /// Whether a number hangs on the plant's low end and the sweep leaves that open.
    pub fn is_open(&self, read: impl Fn(&ErrorConstants) -> Option<f64>) -> bool {
        self.constants.as_ref().is_some_and(|own| {
            let own = read(own);
            self.otherwise
                .iter()
                .any(|other| read(&other.constants) != own)
        })
    }
}

/// The loop round a plant that the sweep leaves possible too.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OtherLowEnd {
    pub low_end: LowEnd,
    pub constants: ErrorConstants,
}

/// What a shaft or a chain does on its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShaftOutcome {
    /// The lowest modes that are not rigid, in rising frequency.
    pub modes: Vec<DrawnMode>,
    /// Rigid motions besides.
    pub rigid: usize,
    /// Why there are none, one sentence for each thing that is wrong.
    pub errors: Vec<String>,
}

/// Where a switching supply's lines fall on the plant's modes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SupplyOutcome {
    /// Where the modes ring.
    pub bands: Vec<ModeBand>,
    /// Every line, to be drawn.
    pub lines: Vec<Line>,
    /// Those that fall on a mode, loudest first.
    pub hits: Vec<SupplyHit>,
    /// For each converter the marked switching frequencies, Hz, at which no line that moves with it falls on a
    /// mode.
    pub free: Vec<Vec<(f64, f64)>>,
    /// In sentences.
    pub told: Vec<String>,
    /// Units of gains through the plant, by their names here.
    pub units: NumberUnits,
}

/// A line on a mode, and what comes of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SupplyHit {
    pub hit: Hit,
    pub passage: Passage,
    /// What comes through, less 20·lg of the line's order: a rule of thumb to tell the loud from the quiet, dB.
    pub rank_db: f64,
}

/// A mode as it is drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DrawnMode {
    /// Hz.
    pub frequency: f64,
    /// Position in m (or the inertia's number), and the amplitude over the largest one.
    pub shape: Vec<(f64, f64)>,
}

/// The plant, measured and modelled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantOutcome {
    pub measured: Option<Shape>,
    /// The model in use over the drawn frequencies.
    pub modelled: Option<Shape>,
    pub model: Option<Model>,
    /// Where the model was fitted to the sweep.
    pub fitted: Option<Fitted>,
    /// Why none could be fitted.
    pub unfitted: Option<String>,
    pub peaks: Vec<Peak>,
    pub antiresonances: Vec<Antiresonance>,
    /// Frequencies of the shaft's modes, to be laid on the sweep, Hz.
    pub shaft_modes: Vec<f64>,
    /// Units of the plant's gains, residues and heights, by their names here.
    pub units: NumberUnits,
}

/// A response over frequency.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Shape {
    /// Hz, rising.
    pub frequency: Vec<f64>,
    pub magnitude_db: Vec<f64>,
    /// From −180° to 180°.
    pub phase_deg: Vec<f64>,
}

/// One loop: its curves and what is read off them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopOutcome {
    pub margins: Margins,
    /// Poles of the closed loop in the right half plane, by Nyquist's count; none where the curve does
    /// not tell.
    pub unstable_poles: Option<usize>,
    /// |1/(1 + L)| in dB at the frequency where rejection is asked for; below 0 a disturbance is quieted.
    pub rejection_db: f64,
    /// L over frequency.
    pub open: Shape,
    /// L as it turns, in the plane.
    pub real: Vec<f64>,
    pub imaginary: Vec<f64>,
    /// |1/(1 + L)|, dB.
    pub sensitivity_db: Vec<f64>,
    /// |L/(1 + L)|, dB.
    pub complementary_db: Vec<f64>,
}

/// Who spends the phase at the crossover.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Budget {
    /// Hz.
    pub crossover: f64,
    pub shares: Vec<Share>,
}

/// One entry of the budget.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// A stage's place in the path, absent for what belongs to the plant.
    pub stage: Option<usize>,
    pub label: String,
    /// Phase in degrees; an inversion is counted with the loop's sign and not here.
    pub phase_deg: f64,
    pub gain_db: f64,
    /// What [`Share::gain_db`] is in: "dB", of the plant "dB re 1 µm/V" where its output has a unit.
    pub gain_unit: String,
}

/// The loop over boards and plants.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopSpread {
    /// Loops that are stable.
    pub stable: Yield,
    /// Loops that are stable and keep every margin that is asked, and the settling time if one is.
    pub kept: Yield,
    /// Loops that are stable and keep the phase margin that is asked.
    pub phase_kept: Yield,
    pub figures: Vec<FigureSpread>,
    /// Variance contributions to the phase margin, most first. Scripts read them as `blame`.
    #[serde(rename = "blame")]
    pub contributions: Vec<LoopContribution>,
    /// The board with the least phase margin, an unstable one if there is one.
    pub worst: Option<WorstBoard>,
}

/// A drawn number's share of the variance of the phase margin, as far as it is linear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopContribution {
    /// "2·R1", "mode 1 frequency".
    pub label: String,
    pub share: f64,
}

/// One board with its plant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WorstBoard {
    pub number: u32,
    pub is_stable: bool,
    /// Degrees; NaN where the gain never reaches 1.
    #[serde(with = "crate::nullable")]
    pub phase_margin: f64,
    pub open: Shape,
    pub real: Vec<f64>,
    pub imaginary: Vec<f64>,
}
