//! Why a row cannot be read.

use super::bounds::{SIZES, WEIGHTS, frequencies};
use super::columns::Needed;
use crate::shorten;

/// What is wrong with a row; a sentence is made only of the few that are shown. `which` counts the needed columns.
pub(super) enum Bad<'a> {
    Short { cells: usize, missing: usize },
    Uneven { cells: usize, width: usize },
    NoNumber { which: usize, cell: &'a str },
    NotFinite { which: usize },
    Frequency,
    Ratio,
    Size,
    Coherence(&'static str),
    Weight,
}

impl Bad<'_> {
    pub fn sentence(&self, needed: &[Needed]) -> String {
        let name = |which: usize| needed[which].name;
        match *self {
            Bad::Short { cells, missing } => format!(
                "The row has {} and no column {}, which is the {}.",
                counted(cells, "cell"),
                needed[missing].column.saturating_add(1),
                name(missing)
            ),
            Bad::Uneven { cells, width } => {
                format!("The row has {}; most have {width}.", counted(cells, "cell"))
            }
            Bad::NoNumber { which, cell: "" } => format!("The {} is empty.", name(which)),
            Bad::NoNumber { which, cell } => format!(
                "The {}, \"{}\", is not a number.",
                name(which),
                shorten(cell, 20)
            ),
            Bad::NotFinite { which } => format!("The {} is not a finite number.", name(which)),
            Bad::Frequency => format!("The frequency must lie above 0, {}.", frequencies()),
            Bad::Ratio => "The magnitude is below 0, which no ratio is.".to_owned(),
            Bad::Size => format!(
                "The response must not be 0; magnitudes from {:e} to {:e} are read.",
                SIZES.start(),
                SIZES.end()
            ),
            Bad::Coherence(sentence) => sentence.to_owned(),
            Bad::Weight => format!(
                "The weight must lie above 0; those from {:e} to {:e} are read.",
                WEIGHTS.start(),
                WEIGHTS.end()
            ),
        }
    }
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
