//! What is drawn of an outcome: charts as data, how they lie on paper or on a screen, and schematics; and both as
//! pictures that stand by themselves (SVG).

mod frame;
mod ink;
mod labels;
mod plot;
mod runs;
pub mod schematic;
mod svg;
mod ticks;
mod xml;

pub use frame::{Frame, MARGINS};
pub use labels::{Label, SIZE_OF_LETTERS, Side};
pub use plot::{Axis, Pen, Plot, Stripe, Tick};
pub use runs::runs;
pub use svg::{Caption, RING, Sign, svg};
pub use ticks::{linear_ticks, log_ticks};
