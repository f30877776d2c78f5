//! Notches: quiet one frequency, leave the rest alone.

mod multiple_feedback;

pub use multiple_feedback::MfbNotch;
