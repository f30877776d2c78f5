//! The plant: its measured sweep, the model that is fitted to it, and where its modes come from.

mod fit;
mod interpolate;
mod keeping;
mod known;
mod model;
mod resonance;
mod rigid;
pub mod shaft;
pub mod sweep;
mod units;

pub use fit::{
    Antiresonance, Decision, FitError, FitWork, Fitted, Free, FreeMode, LowEnd, Peak, Rival,
    Settings, Start, Unseen, Wish, antiresonances, fit, peaks, refit,
};
pub use keeping::KeepWork;
pub use known::Plant;
pub use model::{Mode, Model};
pub use rigid::Rigid;
pub use sweep::{Point, Sweep};
pub use units::{NumberUnits, PlantUnits, labelled, with_unit};
