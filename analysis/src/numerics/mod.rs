//! Searches along one number: a zero, a change, a valley, a top; the larger of two; the modulus of a complex number;
//! lists in order; products of columns; points that scatter; a curve through points.

mod bracket;
mod gallop;
pub mod golden;
mod larger;
mod modulus;
mod order;
mod products;
mod scatter;
mod spline;
mod zero;

pub use bracket::Bracket;
pub use gallop::Gallop;
pub use golden::top;
pub use larger::{larger, smaller};
pub use modulus::modulus;
pub use order::put_in_order;
pub use products::{dot, products};
pub use scatter::{POINTS, Scatter};
pub use spline::Spline;
pub use zero::zero;
