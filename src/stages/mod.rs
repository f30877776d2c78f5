//! The catalogue: one file a stage.
//!
//! A stage is a circuit with a purpose: its netlist, the family of asks that it answers, its design
//! equations, where its symbols stand on the drawing, and its sources. What is read off a response is
//! the ask's business: every circuit of a family is held against the same [`Yardstick`].

mod ask;
mod control;
mod drawing;
mod model;
mod notch;
mod stage;
mod yardstick;

pub use ask::*;
pub use drawing::{Drawing, Orientation, Symbol, SymbolKind};
pub use model::{Model, Scratch};
pub use stage::{Alike, Grouping, Stage};
pub use yardstick::{Figure, Seen, Terms, Yardstick};

/// All stages, in the order in which a newcomer should meet them.
pub static CATALOGUE: &[&dyn Stage] = &[
    &notch::MfbNotch,
    &control::Inverting,
    &control::NonInverting,
    &control::Follower,
    &control::Sum,
    &control::Difference,
    &control::Integrator,
    &control::Differentiator,
    &control::Pi,
    &control::Pd,
    &control::Lead,
    &control::PoleZero(Order::Lead),
    &control::Lag,
    &control::PoleZero(Order::Lag),
    &control::LeadLag,
    &control::PidSingle,
    &control::PidParallel,
    &control::TypeTwo,
    &control::TypeTwoTee,
    &control::TypeThree,
];

/// The stage with this identifier.
pub fn by_id(id: &str) -> Option<&'static dyn Stage> {
    CATALOGUE.iter().copied().find(|stage| stage.id() == id)
}
