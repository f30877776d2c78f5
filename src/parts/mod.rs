//! What can be bought: preferred values, the shelf, and op amps.

mod op_amp;
mod series;
mod shelf;

pub use op_amp::OpAmp;
pub use series::Series;
pub use shelf::{Bin, Shelf};
