//! All-passes: phase without loss.

mod first_order;
mod multiple_feedback;

pub use first_order::FirstOrderAllPass;
pub use multiple_feedback::MfbAllPass;
