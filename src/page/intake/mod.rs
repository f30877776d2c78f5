//! Measured responses come in: texts, how they are read, and what is corrected.

mod reading;
mod source;
mod taken;

pub use source::{Source, Standing};
pub use taken::TakenTexts;
