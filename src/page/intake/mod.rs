//! Measured responses come in: texts, how they are read, and what is corrected.

mod entry;
mod reading;
mod source;
mod taken;

pub use entry::{TextEntry, take_dropped};
pub use source::{Source, Standing};
pub use taken::TakenTexts;
