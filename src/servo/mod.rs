//! The measured plant, its model, and the loop around it.

mod model;
pub mod shaft;
pub mod sweep;

pub use model::{Mode, Model, Rigid};
pub use sweep::{Point, Sweep};
