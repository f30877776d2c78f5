//! The plant: its measured sweep, the model that is fitted to it, and where its modes come from.

mod fit;
mod interpolate;
mod keeping;
mod known;
mod model;
mod peaks;
mod resonance;
mod rigid;
pub mod shaft;
pub mod sweep;
mod swept_of;
mod units;
mod zeros;

pub use fit::{
    Decision, FitError, FitWork, Fitted, Free, FreeMode, LowEnd, Rival, Settings, Start, Unseen,
    Wish, fit, refit,
};
pub use keeping::KeepWork;
pub use known::Plant;
pub use model::{Mode, Model};
pub use peaks::{Antiresonance, Peak, antiresonances, peaks};
pub use rigid::Rigid;
pub use sweep::{Point, Sweep};
pub use swept_of::{SweptOf, WorkedOut};
pub use units::{NumberUnits, PlantUnits, in_unit, labelled, with_unit};
