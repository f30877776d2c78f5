//! The loop round a plant: cut open and traced, its margins, the closed loop in time, and all of it over boards.

mod boards;
mod closed;
mod kept_loop;
mod margins;
mod motion;
mod nyquist;
mod open_loop;
pub mod range;
mod trace;

pub use boards::{Built, LoopBatch, LoopRun, LoopSampler, LoopSetting, PlantVariations};
pub use kept_loop::KeptLoop;
pub use margins::{GainCrossing, Margins, PhaseCrossing};
pub use motion::{
    ErrorConstants, Figures, Motion, MotionAsk, Stimulus, Tracking, Trajectory, TypeBand,
};
pub use nyquist::{OpenPoles, unstable_poles};
pub use open_loop::OpenLoop;
pub use range::OutOfRange;
pub use trace::{Traced, trace, trace_whole, whole_range};
