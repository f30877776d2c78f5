//! polewright

pub mod circuit;
pub mod parts;
pub mod quantity;
pub mod response;
pub mod pick;
pub mod stages;
pub mod design;
pub mod spread;
pub mod outcome;
#[cfg(target_arch = "wasm32")]
pub mod page;
pub mod solve;
pub use solve::{extremes_json, pick_json, solve_json};
