//! From an ask to a circuit's parts that can be bought, and how far boards with them stray.
//!
//! A package of its own, because it is where a pick and a board are worked out: it is built for more speed than what
//! tells of it. And what it does not name, it cannot know: neither designs nor outcomes nor a page.
//!
//! - [`quantity`]: engineering notation in and out; [`wording`] and [`shorten`]: numbers, words and texts in sentences
//! - [`parts`]: preferred values, the shelf, op amps
//! - [`approx`]: filter approximations: from a wanted band to poles, zeros and sections
//! - [`stages`]: the catalogue, one file a stage
//! - [`noise`]: what a stage's parts add of noise
//! - [`pick`]: choosing values off the shelf
//! - [`spread`]: drawing boards, bands, yield
//!
//! Two ways of writing JSON that all share stand here too, because all else builds on this: [`json`] and [`tagged`].

pub mod approx;
pub mod json;
pub mod noise;
pub mod parts;
pub mod pick;
pub mod quantity;
pub mod random;
mod shorten;
pub mod spread;
pub mod stages;
pub mod tagged;
pub mod wording;

pub use analysis::{circuit, numerics, response};
pub use shorten::shorten;
