//! What is drawn of an outcome: charts as data, how they lie on paper or on a screen, and schematics; and all of it as
//! pictures that stand by themselves (SVG).

mod bench;
mod between;
mod board;
mod chart;
mod frame;
pub mod histogram;
mod ink;
mod labels;
pub mod looped;
pub mod motion;
pub mod noise;
mod overlay;
mod plot;
pub mod response;
mod runs;
pub mod scatter;
pub mod schematic;
mod shaft;
mod supply;
mod svg;
mod ticks;
pub mod widths;
pub mod worst_loop;
mod xml;

pub use bench::{bench, boards_of};
pub use between::between;
pub use board::{OF_BOARD, of_board};
pub use chart::{Chart, over_root_hertz};
pub use frame::{Frame, MARGINS};
pub use labels::{Label, SIZE_OF_LETTERS, Side};
pub use overlay::over;
pub use plot::{Axis, Pen, Plot, Stripe, Tick};
pub use runs::runs;
pub use shaft::{mode_shapes, shapes_over};
pub use supply::supply_lines;
pub use svg::{Caption, RING, SIZE, Sign, svg};
pub use ticks::{linear_ticks, log_ticks, minus};
