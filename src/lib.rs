//! From a wanted analog response to op-amp stages with parts that can be bought, and how far boards
//! stray from it.
//!
//! One way leads through the crate, `Design --(solve)--> Outcome`: [`design::Design`] is what was asked
//! for, [`outcome::Outcome`] everything found, both plain data; [`solve::solve`] is pure. Rooms, each of
//! which knows only those above it:
//!
//! - package `analysis`, circuits: [`numerics`], [`response`], [`circuit`]
//! - package `synthesis`, their parts and their boards: [`quantity`], [`wording`], [`parts`], [`approx`], [`stages`],
//!   [`noise`], [`pick`], [`spread`]
//! - package `control`, the loop: [`plant`], [`feedback`], [`compensation`], [`supply`]
//! - [`demands`]: what signals and offsets demand of the op amps
//! - [`mod@bench`]: a measured response against the predicted one
//! - [`design`], [`outcome`]: the spine's data
//! - [`document`]: a design as a file, and the way back over its changes
//! - [`comparison`]: two designs side by side
//! - [`plots`]: what is drawn of an outcome: charts as data
//! - [`sheet`]: the build sheet, a design and its outcome on paper
//! - [`export`]: what leaves the page: parts list, netlist, transfer functions, tables
//! - [`solve`]: from the one to the other
//! - [`exchange`]: what the page and the worker that computes say to each other
//! - `worker` and `page`: the two in the browser; only there, and only they name it
//!
//! ```
//! use polewright::{design::Design, solve::solve};
//! let mut design = Design::default(); // the demo: a notch at 2.35 kHz, Q 2
//! design.spread.boards = 200;
//! let outcome = solve(&design).expect("the demo is within reach");
//! assert_eq!(outcome.stages[0].parts[0].name, "R1");
//! ```

pub mod bench;
pub mod comparison;
pub mod demands;
pub mod design;
pub mod document;
pub mod exchange;
pub mod export;
mod nullable;
pub mod outcome;
#[cfg(all(target_arch = "wasm32", feature = "page"))]
pub mod page;
pub mod plots;
pub mod sheet;
pub mod solve;
#[cfg(target_arch = "wasm32")]
pub mod worker;

pub use analysis::{circuit, numerics, response};
pub use control::{compensation, feedback, plant, supply};
pub use solve::{bands_json, catalogue_json, export_json, extremes_json, pick_json, solve_json};
pub use synthesis::{approx, noise, parts, pick, quantity, spread, stages, wording};
use synthesis::{json, random, shorten, tagged};
