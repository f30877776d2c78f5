//! Help with the loop: a notch for a resonance, a controller, or the loop as a whole.

mod controller;
mod notch;
mod put_in;
mod search;
mod whole;

pub(super) use controller::Controller;
pub(super) use notch::NotchAdvice;
pub(super) use whole::WholeHelper;
