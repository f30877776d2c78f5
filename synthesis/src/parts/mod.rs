//! What can be bought: preferred values, the shelf, and op amps.

mod data_sheet;
mod op_amp;
mod series;
mod shelf;

pub use data_sheet::{CLASSES, DataSheet, OpAmpClass};
pub use op_amp::{OpAmp, OpAmps};
pub use series::Series;
pub use shelf::{Bin, Shelf};
