//! Searches along one number: a zero, a change, a valley, a top; and the larger of two; lists in order; products of columns;
//! points that scatter; a curve through points.

mod bracket;
mod gallop;
pub mod golden;
mod larger;
mod order;
mod products;
mod scatter;
mod spline;
mod thirds;
mod zero;

pub use bracket::Bracket;
pub use gallop::Gallop;
pub use larger::{larger, smaller};
pub use order::put_in_order;
pub use products::{dot, products};
pub use scatter::{POINTS, Scatter};
pub use spline::Spline;
pub use thirds::top;
pub use zero::zero;
