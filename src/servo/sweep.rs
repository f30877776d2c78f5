//! A measured frequency response.

use num_complex::Complex64;

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
}
