//! What a text holds, with what could not be read of it.

use serde::{Deserialize, Serialize};

use super::cells::cells;
use super::lacking::ACCEPTED;
use super::repeats::{gathered, normalised};
use super::row::point;
use super::rows::rows;
use super::weights;
use super::{Columns, Point, Sweep, WeightKind};
use crate::shorten;

/// Rows shown, so that a user sees what the columns are.
const PREVIEW: usize = 6;

/// Bad rows kept with their reasons; the others are only counted.
const MOST_BAD: usize = 100;

/// What a text holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// How the text was read.
    pub columns: Columns,
    /// The columns' names, "" where a column has none; as many as there are columns.
    pub names: Vec<String>,
    /// How many rows there are, good and bad.
    pub rows: usize,
    /// The cells of the first rows.
    pub preview: Vec<Vec<String>>,
    /// How many rows are bad.
    pub bad_rows: usize,
    /// The first hundred of them.
    pub bad: Vec<BadRow>,
    /// The good rows as they stand, with their weights; a coherence's is γ²/(1 − γ²).
    #[serde(skip)]
    pub measured: Vec<Point>,
    /// The good rows in order of frequency, those at one frequency averaged.
    #[serde(skip)]
    pub sweep: Sweep,
    /// Sentences on what was done, and on what was guessed without a name to go by.
    pub notes: Vec<String>,
    /// Where there is no good row, or none is sure to be read rightly: a sentence that says what is accepted.
    pub error: Option<String>,
    /// Whether the error is that the text can be read in two ways; with `columns` given, it is read in theirs.
    pub doubt: bool,
}

/// A row that could not be read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BadRow {
    /// Counted from 1 over all lines of the text.
    pub line: usize,
    /// The row, cut to some 60 characters.
    pub text: String,
    /// A sentence on what is wrong with it.
    pub reason: String,
}

impl Reading {
    pub(super) fn empty(columns: Columns) -> Reading {
        Reading {
            columns,
            names: Vec::new(),
            rows: 0,
            preview: Vec::new(),
            bad_rows: 0,
            bad: Vec::new(),
            measured: Vec::new(),
            sweep: Sweep::default(),
            notes: Vec::new(),
            error: None,
            doubt: false,
        }
    }

    /// Takes nothing of the text, and says why.
    pub(super) fn refuse(&mut self, error: String) {
        self.measured.clear();
        self.sweep.points.clear();
        self.notes.clear();
        self.bad.clear();
        self.bad_rows = 0;
        self.error = Some(error);
    }

    /// Reads all rows below the header.
    pub(super) fn new(
        lines: &[&str],
        columns: Columns,
        width: usize,
        names: Vec<String>,
        notes: Vec<String>,
    ) -> Reading {
        let mut reading = Reading {
            names,
            notes,
            ..Reading::empty(columns)
        };
        reading.names.resize(width, String::new());
        let checked = columns.check();
        let needed = columns.needed();
        for (at, line) in rows(lines, &columns) {
            reading.rows += 1;
            if reading.preview.len() < PREVIEW {
                let cells = cells(line, columns.separator).take(width.max(1));
                reading
                    .preview
                    .push(cells.map(|cell| shorten(cell, 40)).collect());
            }
            if checked.is_err() {
                continue;
            }
            match point(line, &columns, &needed, width) {
                Ok(point) => reading.measured.push(point),
                Err(bad) => {
                    reading.bad_rows += 1;
                    if reading.bad.len() < MOST_BAD {
                        let (text, reason) = (shorten(line.trim(), 60), bad.sentence(&needed));
                        reading.bad.push(BadRow {
                            line: at + 1,
                            text,
                            reason,
                        });
                    }
                }
            }
        }
        reading.gather();
        reading.error = match checked {
            Err(sentence) => Some(sentence),
            Ok(()) if !reading.sweep.points.is_empty() => None,
            Ok(()) => Some(match reading.bad.first() {
                Some(bad) => format!(
                    "No row can be read. Line {}: {} {ACCEPTED}",
                    bad.line, bad.reason
                ),
                None => format!("There is no row below the header. {ACCEPTED}"),
            }),
        };
        reading
    }

    /// The sweep of what was measured, with notes.
    fn gather(&mut self) {
        if self.measured.is_empty() {
            return;
        }
        self.notes.extend(weights::note(&self.columns));
        if !self
            .measured
            .is_sorted_by(|a, b| a.frequency <= b.frequency)
        {
            self.notes
                .push("Rows were not in order of frequency; sorted.".to_owned());
        }
        let mut found = gathered(self.measured.clone());
        let kind = self.columns.weight.map(|weight| weight.kind);
        if kind == Some(WeightKind::Coherence) && !found.is_noise_known {
            normalised(&mut found.points);
        }
        self.notes.extend(found.notes);
        self.sweep.points = found.points;
    }
}
