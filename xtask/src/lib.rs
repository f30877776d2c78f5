//! What the build tool and the tests in `tests/browser` share: a browser and the page in it.
//!
//! The commands themselves live in the binary (`main.rs`).

pub mod browser;
mod driver;
pub mod page;

pub use anyhow::Result;
