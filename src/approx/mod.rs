//! Filter approximations: from a wanted band to poles and zeros.
//!
//! The way leads from a [`Requirement`] by [`order`] to an [`Approximation`], its least order and the
//! band to design for; by [`prototype`] to a low-pass at 1 rad/s; by [`transformed`] to the band.

mod band;
mod error;
mod jacobi;
mod order;
mod prototype;
mod roots;

pub use band::{Band, transformed};
pub use error::ApproxError;
pub use order::{Designed, Requirement, order};
pub use prototype::{Approximation, Family, MAX_ORDER, prototype};
pub use roots::Roots;
