//! Bands with quantiles, against NumPy.

use std::path::Path;

use anyhow::Result;
use serde::Deserialize;
use xshell::Shell;

use super::engines::{BOARDS, FREQUENCIES, Own, spread, timed_by_numpy};
use super::numbers::median;
use super::table::Row;

const REPEATS: u32 = 5;

/// Milliseconds of NumPy at level and phase over the boards, on one thread.
#[derive(Deserialize)]
pub struct Numpy {
    /// As fast as it was made to go.
    milliseconds: Vec<f64>,
    /// As one would write it first.
    milliseconds_plain: Vec<f64>,
    /// The same of the level alone.
    milliseconds_magnitude: Vec<f64>,
    /// NumPy's version.
    numpy: String,
}

impl Numpy {
    /// Milliseconds as one would write it first.
    pub fn plain(&self) -> f64 {
        median(&self.milliseconds_plain)
    }
}

/// Times NumPy.
pub fn numpy(sh: &Shell, python: &Path) -> Result<Numpy> {
    timed_by_numpy(sh, python, "bench_bands.py", REPEATS)
}

/// What comes of the three.
pub fn rows(numpy: &Numpy, native: &Own, browser: &Own) -> Vec<Row> {
    let against = |what: &str, own: &Own| {
        let work = own.bands();
        let (tuned, plain) = (
            median(&numpy.milliseconds) / work,
            median(&numpy.milliseconds_plain) / work,
        );
        let figure = format!("median {work:.1} ms: {tuned:.1} × tuned, {plain:.0} × plain");
        Row::new(what, figure).above(20.0, "× plain", plain)
    };
    vec![
        Row::heading(format!(
            "Bands of level and phase with quantiles, {BOARDS} boards at {FREQUENCIES} frequencies, on one thread"
        )),
        Row::new(
            &format!("NumPy {}, tuned, boards given", numpy.numpy),
            spread(&numpy.milliseconds),
        ),
        Row::new(
            "NumPy, plain, boards given",
            spread(&numpy.milliseconds_plain),
        ),
        Row::new(
            "NumPy, plain, level alone",
            spread(&numpy.milliseconds_magnitude),
        ),
        against("native, less what 2 frequencies take", native),
        against("Chromium, less what 2 frequencies take", browser),
        Row::new(
            "Chromium, the same against a frame",
            format!("{:.1} ms", browser.bands()),
        )
        .below(16.0, "ms", browser.bands()),
    ]
}
