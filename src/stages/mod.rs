//! The catalogue: one file a stage.
//!
//! A stage is a circuit with a purpose: its netlist, what may be asked of it, its design equations,
//! the figures read off it, where its symbols stand on the drawing, and its sources.

mod ask;
mod drawing;
mod mfb_notch;
mod model;
mod stage;

pub use ask::{Ask, Depth, NotchAsk};
pub use drawing::{Drawing, Orientation, Symbol, SymbolKind};
pub use model::{Model, Scratch};
pub use stage::{Figure, Grouping, Limit, Stage, Terms};

/// All stages, in the order in which a newcomer should meet them.
pub static CATALOGUE: [&dyn Stage; 1] = [&mfb_notch::MfbNotch];

/// The stage with this identifier.
pub fn by_id(id: &str) -> Option<&'static dyn Stage> {
    CATALOGUE.iter().copied().find(|stage| stage.id() == id)
}
