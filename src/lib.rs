//! polewright

pub mod circuit;
pub mod design;
pub mod outcome;
#[cfg(target_arch = "wasm32")]
pub mod page;
pub mod parts;
pub mod pick;
pub mod quantity;
pub mod response;
pub mod solve;
pub mod spread;
pub mod stages;
pub use solve::{extremes_json, pick_json, solve_json};
