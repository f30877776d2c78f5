//! Searches along one number: a zero, a change, a valley, a top.

mod bracket;
mod gallop;
pub mod golden;
mod thirds;
mod zero;

pub use bracket::Bracket;
pub use gallop::Gallop;
pub use thirds::top;
pub use zero::zero;
