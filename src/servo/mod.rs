//! The measured plant, its model, and the loop around it.

mod advice;
mod boards;
mod closed;
mod fit;
mod golden;
mod interpolate;
mod keeping;
mod kept_loop;
mod margins;
mod model;
mod motion;
mod nyquist;
mod open_loop;
mod range;
mod resonance;
mod rigid;
pub mod shaft;
mod shaping;
pub mod supply;
pub mod sweep;
mod trace;
mod units;
mod whole;

pub use advice::{
    Advice, AdviceError, AdviceWork, ByPhase, LowPass, LowerGain, NotchAdvice, NotchVerdict,
    NotchWish, Otherwise, advise,
};
pub use boards::{Built, LoopRun, LoopSetting, PlantStrays};
pub use fit::{
    Antiresonance, Decision, FitError, FitWork, Fitted, Free, FreeMode, LowEnd, Peak, Rival,
    Settings, Start, Unseen, Wish, antiresonances, fit, peaks, refit,
};
pub use keeping::KeepWork;
pub use kept_loop::KeptLoop;
pub use margins::{GainCrossing, Margins, PhaseCrossing};
pub use model::{Mode, Model};
pub use motion::{
    ErrorConstants, Figures, Motion, MotionAsk, Stimulus, Tracking, Trajectory, TypeBand,
};
pub use nyquist::unstable_poles;
pub use open_loop::{OpenLoop, Plant};
pub use range::OutOfRange;
pub use rigid::Rigid;
pub use shaping::{
    BuildError, BuiltLoop, BuiltShort, Controller, ControllerForm, MOST_AMPLIFIERS, ShapeError,
    ShapeWish, ShapeWork, Shaped, Shortfall, Workshop, shape,
};
pub use sweep::{Point, Sweep};
pub use trace::{Traced, trace, trace_whole, whole_range};
pub use units::{NumberUnits, PlantUnits, labelled, with_unit};
pub use whole::{
    Dip, Nearest, PathStage, PeakReading, Reader, Reading, Role, RollOff, RunnerUp, Whole,
    WholeError, WholeLoop, WholeShop, WholeStage, WholeWish, WholeWork, WishedForm, acts_on,
};

/// A number that was worked out, as it stands in an ask: in five digits. What is left out is a hundredth of what
/// any part strays.
fn for_ask(value: f64) -> f64 {
    crate::quantity::to_digits(value, 5)
}
