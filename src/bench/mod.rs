//! The bench: a measured response against the predicted one.
//!
//! A board that was built is measured. Where does the measurement lie among the boards that might be built (`band.rs`);
//! which values of its parts, or which mistake, made it, and how sure is that (`cause.rs`, `weigh.rs`); what brings its
//! figures home (`repair.rs`)?
//!
//! Method. Every cause that is thought of (all parts within their laws; one part outside of its law; two parts in
//! each other's places, a factor of ten, a part missing or shorted; what lies behind the stages; each with and without a
//! calibrated measurement) gets the most probable values of all parts, by Levenberg–Marquardt on the weighted residuals and
//! the parts' laws together (`fit.rs`). Causes are weighed against each other by what is left of their evidence when all
//! values are integrated out: importance sampling from Laplace's approximation (`evidence.rs`; D. MacKay, "Information Theory,
//! Inference, and Learning Algorithms", ch. 27 to 29, from memory). The noise is not asked for; it is read off the data
//! (`noise.rs`).

mod band;
mod cause;
mod data;
mod evidence;
mod fit;
mod measurement;
mod noise;
mod plant;
mod predict;
mod prior;
mod repair;
mod report;
mod setting;
mod told;
mod trimmer;
mod weigh;
mod work;

pub use band::{BandVerdict, Leave};
pub use cause::{Cause, PartAt};
pub use measurement::{Measurement, MeasurementError};
pub use plant::{PlantBlock, PlantTolerance};
pub use repair::{Action, FigureValue, Repair, RepairVerdict, Step};
pub use report::{BlockShare, Likely, OpAmpNumber, PartValue, Report, Verdict};
pub use setting::{Block, BlockParameter, Known, Setting, SettingStage};
pub use trimmer::{Trimmer, Turn};
pub use work::BenchWork;
