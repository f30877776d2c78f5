//! What is drawn of an outcome, as data: charts with their axes, and how they lie on paper or on a screen.

mod frame;
mod labels;
mod plot;
mod runs;
mod ticks;

pub use frame::{Frame, MARGINS};
pub use labels::{Label, SIZE_OF_LETTERS, Side};
pub use plot::{Axis, Pen, Plot, Stripe, Tick};
pub use runs::runs;
pub use ticks::{linear_ticks, log_ticks};
