//! A sweep as text.

use std::fmt::Write;

use super::Sweep;

/// A table of frequency in Hz, real and imaginary part, from which [`super::read`] reads every bit again.
///
/// That holds for the frequencies and magnitudes that are read at all; a sweep without points is a header.
pub fn write(sweep: &Sweep) -> String {
    let mut text = String::with_capacity(32 + 60 * sweep.points.len());
    text.push_str("Frequency (Hz)\tReal part\tImaginary part\n");
    for point in &sweep.points {
        let (f, z) = (point.frequency, point.response);
        // Writing to a string does not fail.
        let _ = writeln!(text, "{f:?}\t{:?}\t{:?}", z.re, z.im);
    }
    text
}
