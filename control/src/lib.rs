//! The measured plant and the loop round it.
//!
//! A package of its own, as the one of circuits below it: loops over boards are worked out here, and it is built for
//! more speed than what tells of them.
//!
//! - [`plant`]: the measured plant, its model, where its modes come from
//! - [`feedback`]: the loop round it, its margins, its motion, all of it over boards
//! - [`compensation`]: what closes that loop as wished: notches, a controller, both at once
//! - [`supply`]: lines of switching converters on the plant's modes

pub mod compensation;
pub mod feedback;
pub mod plant;
pub mod supply;

use analysis::{numerics, response};
use synthesis::{json, parts, pick, quantity, random, shorten, spread, stages, tagged, wording};
