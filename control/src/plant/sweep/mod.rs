//! A measured frequency response: read from text, written, thinned.

mod bad;
mod bounds;
pub(crate) mod cells;
mod columns;
pub(in crate::plant) mod condense;
mod decode;
mod doubt;
mod guess;
mod lacking;
pub(crate) mod layout;
mod marks;
mod merge;
mod names;
mod numbers;
mod read;
mod reading;
mod repeats;
mod row;
mod rows;
mod run;
mod thin;
mod touchstone;
mod values;
mod weights;
mod write;

use num_complex::Complex64;

pub use bounds::{FREQUENCIES, LARGEST_FILE, frequencies};
pub use columns::{
    Columns, FrequencyUnit, MagnitudeUnit, PhaseUnit, Response, Separator, WeightColumn, WeightKind,
};
pub use decode::decode;
pub use merge::{Merged, merge};
pub use read::{read, read_measured};
pub use reading::{BadRow, Reading};
pub use write::{write, write_magnitudes};

/// An invented sweep of a moving-coil focus stage, written by tests/reference/demo_sweep.py.
pub const DEMO: &str = include_str!("../demo_sweep.txt");

/// Measured points in strictly ascending order of frequency.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sweep {
    pub points: Vec<Point>,
}

/// One measured point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Hz, above 0.
    pub frequency: f64,
    /// Output over input.
    pub response: Complex64,
    /// How much it counts: in inverse proportion to the variance of `response` relative to its magnitude. 1 for
    /// one measurement among equals, 3 for the mean of three; above 0.
    pub weight: f64,
}

impl Point {
    /// One measurement among equals.
    pub const fn new(frequency: f64, response: Complex64) -> Point {
        Point {
            frequency,
            response,
            weight: 1.0,
        }
    }
}
