//! A sweep as text.

use std::fmt::Write;

use num_complex::Complex64;

use super::Sweep;

/// A table of frequency in Hz, real and imaginary part, from which [`super::read`] reads every bit again; with the
/// weights in a fourth column where any is not 1.
///
/// That holds for the frequencies, magnitudes and weights that are read at all; a sweep without points is a header.
pub fn write(sweep: &Sweep) -> String {
    table(sweep, "Real part\tImaginary part", |text, z| {
        // Writing to a string does not fail.
        let _ = write!(text, "{:?}\t{:?}", z.re, z.im);
    })
}

/// The same of a response whose phase was not measured, for [`super::read_measured`]: frequency in Hz and magnitude.
pub fn write_magnitudes(sweep: &Sweep) -> String {
    table(sweep, "Magnitude (ratio)", |text, z| {
        let _ = write!(text, "{:?}", z.norm());
    })
}

fn table(sweep: &Sweep, names: &str, cells: impl Fn(&mut String, Complex64)) -> String {
    let is_weighted = sweep.points.iter().any(|point| point.weight != 1.0);
    let mut text = String::with_capacity(40 + 70 * sweep.points.len());
    text.push_str("Frequency (Hz)\t");
    text.push_str(names);
    text.push_str(if is_weighted { "\tWeight\n" } else { "\n" });
    for point in &sweep.points {
        let _ = write!(text, "{:?}\t", point.frequency);
        cells(&mut text, point.response);
        if is_weighted {
            let _ = write!(text, "\t{:?}", point.weight);
        }
        text.push('\n');
    }
    text
}
