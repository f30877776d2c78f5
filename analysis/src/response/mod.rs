//! Rational functions of s, and what is read off them: sweep, poles and zeros, group delay, time
//! response, figures of a curve.

mod crossing;
mod factor;
mod grid;
mod nearest;
mod polynomial;
mod reading;
mod roots;
mod stability;
mod state;
mod step;
mod transfer;
mod turning;

pub use crossing::{Crossings, Way, first_crossing};
pub use factor::{Factor, corner_near, factor_near};
pub use grid::{log_grid, resolving_grid};
pub use nearest::{corner, factor};
pub use polynomial::times;
pub use reading::{deepest, deepest_near};
pub use stability::has_no_right_root;
pub use state::StateSpace;
pub use step::step_response;
pub use transfer::Transfer;
