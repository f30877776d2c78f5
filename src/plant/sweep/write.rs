//! A sweep as text.

use std::fmt::Write;

use super::Sweep;

/// A table of frequency in Hz, real and imaginary part, from which [`super::read`] reads every bit again; with the
/// weights in a fourth column where any is not 1.
///
/// That holds for the frequencies, magnitudes and weights that are read at all; a sweep without points is a header.
pub fn write(sweep: &Sweep) -> String {
    let is_weighted = sweep.points.iter().any(|point| point.weight != 1.0);
    let mut text = String::with_capacity(40 + 70 * sweep.points.len());
    text.push_str("Frequency (Hz)\tReal part\tImaginary part");
    text.push_str(if is_weighted { "\tWeight\n" } else { "\n" });
    for point in &sweep.points {
        let (f, z) = (point.frequency, point.response);
        // Writing to a string does not fail.
        let _ = write!(text, "{f:?}\t{:?}\t{:?}", z.re, z.im);
        if is_weighted {
            let _ = write!(text, "\t{:?}", point.weight);
        }
        text.push('\n');
    }
    text
}
