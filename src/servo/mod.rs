//! The measured plant, its model, and the loop around it.

mod fit;
mod model;
mod sweep;

pub use fit::{
    Antiresonance, FitError, FitWork, Fitted, Free, FreeMode, LowEnd, Peak, Settings, Start, Wish,
    antiresonances, fit, peaks, refit,
};
pub use model::{Mode, Model, Rigid};
pub use sweep::{Point, Sweep};
