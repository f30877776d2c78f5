//! How large a table may be, so that no file holds up the page, and its numbers, so that no sum overflows.

use std::ops::RangeInclusive;

use crate::quantity::{Unit, exact};

/// Columns that are read at most; instruments write a few, and programs that compare channels some dozens.
pub(super) const MOST_COLUMNS: usize = 256;

/// Bytes in a line that is looked at as a row or as a line of names: that many columns of 25 characters are a fifth.
pub(super) const LONGEST_LINE: usize = 32 * 1024;

/// Bytes of a file that is read at most.
pub const LARGEST_FILE: usize = 64_000_000;

/// Frequencies that are read, Hz.
pub const FREQUENCIES: (f64, f64) = (1e-6, 1e12);

/// [`FREQUENCIES`] as a sentence has them.
pub fn frequencies() -> String {
    let [low, high] = [FREQUENCIES.0, FREQUENCIES.1].map(|end| exact(end, Unit::Hertz));
    format!("between {low} and {high}")
}

/// Magnitudes that are read: squares of them and of their inverses are numbers.
pub(super) const SIZES: RangeInclusive<f64> = 1e-100..=1e100;

/// Weights that are read; sums and products of them are numbers.
pub(super) const WEIGHTS: RangeInclusive<f64> = 1e-100..=1e100;

/// Whether a line is short enough to be looked at.
pub(super) fn is_short(line: &str) -> bool {
    line.len() <= LONGEST_LINE
}
