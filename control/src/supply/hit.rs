//! Lines that fall within a mode's band.

use serde::{Deserialize, Serialize};

use super::interval::shared;
use super::{Line, ModeBand};

/// A line that may fall on a mode.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hit {
    pub line: Line,
    /// The mode's place in the model, from 0.
    pub mode: usize,
    /// Where line and band meet, Hz.
    pub shared: (f64, f64),
}

/// Every meeting of a line with a mode's band, in the lines' order. A line on the very edge of a band meets it.
pub fn hits(lines: &[Line], bands: &[ModeBand]) -> Vec<Hit> {
    let meeting = |line: &Line, band: &ModeBand| {
        let shared = shared(line.range, band.range)?;
        Some(Hit {
            line: *line,
            mode: band.mode,
            shared,
        })
    };
    lines
        .iter()
        .flat_map(|line| bands.iter().filter_map(move |band| meeting(line, band)))
        .collect()
}
