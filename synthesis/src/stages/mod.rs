//! The catalogue: one file a stage.
//!
//! A stage is a circuit with a purpose: its netlist, the family of asks that it answers, its design
//! equations, where its symbols stand on the drawing, and its sources. What is read off a response is
//! the ask's business: every circuit of a family is held against the same [`Yardstick`].

mod abreast;
mod all_pass;
mod ask;
mod control;
mod drawing;
mod evaluate;
mod first_order;
mod guidance;
mod model;
mod notch;
mod quiet;
mod second_order;
mod stage;
mod third_order;
mod yardstick;

pub use abreast::Abreast;
pub use ask::*;
pub use drawing::{Drawing, Orientation, Symbol, SymbolKind};
pub use evaluate::Scratch;
pub use model::{Model, Surroundings};
pub use quiet::NoiseRule;
pub use stage::{Alike, Catalogued, Given, Grouping, Stage};
pub use yardstick::{Figure, Seen, Terms, Yardstick};

/// The same circuits as what can be worked out and as what can be looked up.
macro_rules! catalogue {
    ($($stage:expr),* $(,)?) => {
        /// All stages, in the order in which a newcomer should meet them.
        pub static CATALOGUE: &[&dyn Stage] = &[$(&$stage),*];

        /// The same without their equations.
        pub static CATALOGUED: &[&dyn Catalogued] = &[$(&$stage),*];
    };
}

catalogue![
    notch::MfbNotch,
    notch::SubtractedNotch,
    notch::TwinT,
    notch::GyratorNotch,
    notch::BainterNotch,
    notch::StateVariableNotch,
    notch::PassiveTwinT,
    notch::BridgedT,
    notch::BainterUneven,
    notch::StateVariableUneven,
    first_order::FollowerLowPass,
    first_order::NonInvertingLowPass,
    first_order::InvertingLowPass,
    first_order::FollowerHighPass,
    first_order::NonInvertingHighPass,
    first_order::InvertingHighPass,
    second_order::SallenKeyLowPass,
    second_order::SallenKeyLowPassGain,
    second_order::MfbLowPass,
    second_order::SallenKeyHighPass,
    second_order::SallenKeyHighPassGain,
    second_order::MfbHighPass,
    second_order::MfbBandPass,
    second_order::SallenKeyBandPass,
    third_order::SallenKeyLowPass3,
    third_order::SallenKeyHighPass3,
    all_pass::FirstOrderAllPass,
    all_pass::MfbAllPass,
    control::Inverting,
    control::NonInverting,
    control::Follower,
    control::Sum,
    control::Difference,
    control::Integrator,
    control::Differentiator,
    control::Pi,
    control::Pd,
    control::Lead,
    control::PoleZero(Order::Lead),
    control::Lag,
    control::PoleZero(Order::Lag),
    control::LeadLag,
    control::PidSingle,
    control::PidParallel,
    control::TypeTwo,
    control::TypeTwoTee,
    control::TypeThree,
];

/// The stage with this identifier.
pub fn by_id(id: &str) -> Option<&'static dyn Stage> {
    CATALOGUE.iter().copied().find(|stage| stage.id() == id)
}

/// What is known of the circuit with this identifier.
pub fn catalogued(id: &str) -> Option<&'static dyn Catalogued> {
    CATALOGUED.iter().copied().find(|stage| stage.id() == id)
}
