//! From a text to a sweep.

use num_complex::Complex64;

use super::cells::{begins_like_a_number, cells, comment, lines, may_be_row, without_remark};
use super::columns::Needed;
use super::doubt::joined;
use super::guess::{Guess, guess};
use super::lacking::lacking;
use super::layout::{Layout, layout, sample, width};
use super::names::names;
use super::numbers::{complex, real};
use super::repeats::{WEIGHTS, gathered, normalised};
use super::touchstone::Touchstone;
use super::weights;
use super::{Columns, MagnitudeUnit, PhaseUnit, Point, Response, Separator, Sweep, WeightKind};

/// Rows shown, so that a user sees what the columns are.
const PREVIEW: usize = 6;

/// Bad rows kept with their reasons; the others are only counted.
const MOST_BAD: usize = 100;

/// Frequencies that are read, Hz.
const FREQUENCIES: std::ops::RangeInclusive<f64> = 1e-6..=1e12;

/// Magnitudes that are read: squares of them and of their inverses are numbers.
pub(super) const SIZES: std::ops::RangeInclusive<f64> = 1e-100..=1e100;

pub(super) const ACCEPTED: &str = "A sweep is a table with a row for each frequency: the frequency, and either \
                                   magnitude and phase or real and imaginary part, with tabs, semicolons, commas, \
                                   bars or blanks between them.";

/// What a text holds.
#[derive(Clone, Debug, PartialEq)]
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
    pub measured: Vec<Point>,
    /// The good rows in order of frequency, those at one frequency averaged.
    pub sweep: Sweep,
    /// Sentences on what was done, and on what was guessed without a name to go by.
    pub notes: Vec<String>,
    /// Where there is no good row, or none is sure to be read rightly: a sentence that says what is accepted.
    pub error: Option<String>,
    /// Whether the error is that the text can be read in two ways; with `columns` given, it is read in theirs.
    pub doubt: bool,
}

/// A row that could not be read.
#[derive(Clone, Debug, PartialEq)]
pub struct BadRow {
    /// Counted from 1 over all lines of the text.
    pub line: usize,
    /// The row, cut to some 60 characters.
    pub text: String,
    /// A sentence on what is wrong with it.
    pub reason: String,
}

/// Reads a sweep from a text, with the columns as given or else as guessed.
///
/// Accepted are frequencies from 1 µHz to 1 THz with magnitudes from 1e-100 to 1e100, in any order; rows
/// that share a frequency (within 1e-9 of it) are averaged as complex numbers, and many such tell the noise. A
/// coherence or a weight in a column sets how much a row counts. Thousands may be set apart, and a response may be a
/// complex number in one cell. Blank lines, lines that begin like a comment (`#`, `%`, `!`, `//`, `;`, `"`) and
/// what stands behind ` !` in a row are skipped. Whether bad rows may be left out is the caller's affair.
///
/// A text that can be read in two ways is not read without columns: the reading has an error, and its `columns` are
/// one of the ways.
pub fn read(text: &str, how: Option<&Columns>) -> Reading {
    let lines: Vec<&str> = lines(text).collect();
    match how {
        Some(columns) => {
            let start = columns.header.min(lines.len());
            let width = width(&lines[start..], columns.separator);
            let header = &lines[..start];
            let names = match Touchstone::of(header) {
                Some(touchstone) => touchstone.names(width),
                None => names(header, columns.separator, width),
            };
            Reading::new(&lines, *columns, width, names, Vec::new())
        }
        None => match layout(&lines, 3) {
            Some(layout) => guessed(&lines, &layout),
            None => Reading {
                error: Some(lacking(&lines)),
                ..Reading::empty(Columns::default())
            },
        },
    }
}

fn guessed(lines: &[&str], layout: &Layout) -> Reading {
    let header = &lines[..layout.header];
    if let Some(touchstone) = Touchstone::of(header) {
        return of_touchstone(lines, layout, touchstone);
    }
    let names = names(header, layout.separator, layout.width);
    let Guess {
        columns,
        notes,
        lacking,
    } = guess(lines, layout, &names);
    let doubt = layout
        .doubt
        .clone()
        .or_else(|| joined(header, &sample(&lines[layout.header..]), layout));
    let mut reading = Reading::new(lines, columns, layout.width, names, notes);
    if let Some(doubt) = doubt {
        reading.refuse(doubt);
        reading.doubt = true;
    } else if let Some(lacking) = lacking {
        reading.refuse(format!("{lacking} {ACCEPTED}"));
    }
    reading
}

fn of_touchstone(lines: &[&str], layout: &Layout, touchstone: Touchstone) -> Reading {
    let names = touchstone.names(layout.width);
    let widths = sample(&lines[layout.header..])
        .iter()
        .map(|line| cells(line, layout.separator).count())
        .collect::<Vec<_>>();
    match touchstone.columns(layout, &widths) {
        Ok((columns, notes)) => Reading::new(lines, columns, layout.width, names, notes),
        Err(sentence) => {
            let columns = Columns {
                separator: layout.separator,
                decimal_comma: layout.decimal_comma,
                header: layout.header,
                ..Columns::default()
            };
            let mut reading = Reading::new(lines, columns, layout.width, names, Vec::new());
            reading.refuse(sentence);
            reading
        }
    }
}

/// The lines below the header that are neither blank nor comments, with their indices.
pub(super) fn rows<'a>(
    lines: &'a [&'a str],
    columns: &Columns,
) -> impl Iterator<Item = (usize, &'a str)> + use<'a> {
    let columns = *columns;
    let is_row = move |line: &str| {
        begins_like_a_number(line)
            || !line.trim_start().is_empty()
                && (comment(line).is_none() || is_row_after_all(line, &columns))
    };
    let below = lines.iter().copied().enumerate().skip(columns.header);
    below
        .filter(move |(_, line)| is_row(line))
        .map(|(at, line)| (at, without_remark(line)))
}

/// Whether a line that begins like a comment has a number where the frequency should be.
fn is_row_after_all(line: &str, columns: &Columns) -> bool {
    may_be_row(line, columns.separator)
        && cells(line, columns.separator)
            .nth(columns.frequency)
            .is_some_and(|cell| real(cell, columns.decimal_comma).is_some())
}

impl Reading {
    fn empty(columns: Columns) -> Reading {
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
    fn refuse(&mut self, error: String) {
        self.measured.clear();
        self.sweep.points.clear();
        self.notes.clear();
        self.bad.clear();
        self.bad_rows = 0;
        self.error = Some(error);
    }

    fn new(
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
                    .push(cells.map(|cell| cut(cell, 40)).collect());
            }
            if checked.is_err() {
                continue;
            }
            match point(line, &columns, &needed, width) {
                Ok(point) => reading.measured.push(point),
                Err(bad) => {
                    reading.bad_rows += 1;
                    if reading.bad.len() < MOST_BAD {
                        let (text, reason) = (cut(line.trim(), 60), bad.sentence(&needed));
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
}

impl Reading {
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

/// What is wrong with a row; a sentence is made only of the few that are shown. `which` counts the needed columns.
enum Bad<'a> {
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
    fn sentence(&self, needed: &[Needed]) -> String {
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
                cut(cell, 20)
            ),
            Bad::NotFinite { which } => format!("The {} is not a finite number.", name(which)),
            Bad::Frequency => "The frequency must lie above 0, between 1 µHz and 1 THz.".to_owned(),
            Bad::Ratio => "The magnitude is below 0, which no ratio is.".to_owned(),
            Bad::Size => {
                "The response must not be 0; magnitudes from 1e-100 to 1e100 are read.".to_owned()
            }
            Bad::Coherence(sentence) => sentence.to_owned(),
            Bad::Weight => {
                "The weight must lie above 0; those from 1e-100 to 1e100 are read.".to_owned()
            }
        }
    }
}

/// Columns that are needed at most.
const MOST_NEEDED: usize = 4;

/// A row's point.
fn point<'a>(
    line: &'a str,
    columns: &Columns,
    needed: &[Needed],
    width: usize,
) -> Result<Point, Bad<'a>> {
    let mut picked = [None; MOST_NEEDED];
    let (mut count, mut used) = (0, 0);
    for cell in cells(line, columns.separator) {
        for (needed, place) in needed.iter().zip(&mut picked) {
            if needed.column == count {
                *place = Some(cell);
            }
        }
        count += 1;
        if !cell.is_empty() {
            used = count;
        }
    }
    let picked = &picked[..needed.len()];
    if let Some(missing) = picked.iter().position(Option::is_none) {
        return Err(Bad::Short {
            cells: count,
            missing,
        });
    }
    // A mark too many, or a cell lost between blanks, shifts what follows it.
    if used > width || columns.separator == Separator::Blanks && used != width {
        return Err(Bad::Uneven { cells: used, width });
    }
    let value = |which: usize| {
        let cell = picked[which].unwrap_or_default();
        let value = real(cell, columns.decimal_comma).ok_or(Bad::NoNumber { which, cell })?;
        if value.is_finite() {
            Ok(value)
        } else {
            Err(Bad::NotFinite { which })
        }
    };
    let frequency = value(0)? * columns.frequency_unit.hertz();
    let response = match columns.response {
        Response::Complex { .. } => {
            let cell = picked[1].unwrap_or_default();
            match complex(cell, columns.decimal_comma) {
                Some(found) if found.is_finite() => found,
                Some(_) => return Err(Bad::NotFinite { which: 1 }),
                // Without an imaginary part it may be written as a real number.
                None => value(1)?.into(),
            }
        }
        Response::Cartesian { .. } => Complex64::new(value(1)?, value(2)?),
        Response::Polar {
            magnitude_unit,
            phase_unit,
            ..
        } => polar([value(1)?, value(2)?], magnitude_unit, phase_unit).ok_or(Bad::Ratio)?,
    };
    if !FREQUENCIES.contains(&frequency) {
        return Err(Bad::Frequency);
    }
    if !SIZES.contains(&response.norm()) {
        return Err(Bad::Size);
    }
    let mut point = Point::new(frequency, response);
    if let Some(weight) = columns.weight {
        let own = value(needed.len() - 1)?;
        point.weight = match weight.kind {
            WeightKind::Coherence => weights::of_coherence(own).map_err(Bad::Coherence)?,
            WeightKind::Weight if WEIGHTS.contains(&own) => own,
            WeightKind::Weight => return Err(Bad::Weight),
        };
    }
    Ok(point)
}

/// The response of magnitude and phase; none where the magnitude is a ratio below 0.
fn polar([size, angle]: [f64; 2], unit: MagnitudeUnit, phase: PhaseUnit) -> Option<Complex64> {
    let magnitude = match unit {
        MagnitudeUnit::Decibels => 10f64.powf(size / 20.0),
        MagnitudeUnit::Ratio if size < 0.0 => return None,
        MagnitudeUnit::Ratio => size,
    };
    let angle = match phase {
        // Whole turns go before they cost digits.
        PhaseUnit::Degrees => (angle % 360.0).to_radians(),
        PhaseUnit::Radians => angle,
    };
    Some(Complex64::from_polar(magnitude, angle))
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// The text, or its beginning and "…".
fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bad_rows_say_what_is_wrong() {
        let text = "f;dB;deg\n1;-2;3\n2;x;3\n0;-1;2\n\n3;-1\n4;NaN;1\n5;-1;2;9\n6;;1\n-7;-8;9\n";
        let reading = read(text, None);
        let reasons: Vec<_> = reading
            .bad
            .iter()
            .map(|bad| (bad.line, bad.reason.as_str()))
            .collect();
        assert_eq!(
            reasons,
            [
                (3, "The magnitude, \"x\", is not a number."),
                (
                    4,
                    "The frequency must lie above 0, between 1 µHz and 1 THz."
                ),
                (
                    6,
                    "The row has 2 cells and no column 3, which is the phase."
                ),
                (7, "The magnitude is not a finite number."),
                (8, "The row has 4 cells; most have 3."),
                (9, "The magnitude is empty."),
                (
                    10,
                    "The frequency must lie above 0, between 1 µHz and 1 THz."
                ),
            ]
        );
        assert_eq!(
            (reading.rows, reading.bad_rows, reading.sweep.points.len()),
            (8, 7, 1)
        );
        assert_eq!(reading.names, ["f", "dB", "deg"]);
        assert_eq!(reading.preview[1], ["2", "x", "3"]);
    }

    #[test]
    fn rows_are_sorted_and_averaged() {
        let reading = read("# Hz re im\n2 1 0\n1 1 0\n2 0 1\n3 1 0\n3 -1 0\n", None);
        let points = &reading.sweep.points;
        assert_eq!(points[1].response, Complex64::new(0.5, 0.5));
        assert_eq!(points.len(), 2);
        assert_eq!(
            reading.notes,
            [
                "Rows were not in order of frequency; sorted.",
                "4 rows share a frequency with another; averaged.",
                "2 of these cancel each other; left out.",
            ]
        );
    }

    #[test]
    fn what_cannot_be_read_says_what_can() {
        for (text, how, says) in [
            ("", None, "The text is empty. A sweep is"),
            (" \n\t\n", None, "The text is empty. A sweep is"),
            ("words\n", None, "There is no row of numbers."),
            ("1\n2\n3\n", None, "The rows have one number each"),
            (
                "1 2\n2 3",
                None,
                "The rows have two numbers each: the phase, or the imaginary part, is missing.",
            ),
            (
                "f (Hz);Mag (dB)\n1;2\n2;3",
                None,
                "The rows have two numbers each: the phase is missing.",
            ),
            (
                "f\n",
                Some(Columns::default()),
                "No row can be read. Line 1: The row has 1 cell and no column 2",
            ),
            (
                "",
                Some(Columns::default()),
                "There is no row below the header.",
            ),
        ] {
            let error = read(text, how.as_ref()).error.expect("an error");
            assert!(error.starts_with(says), "{error}");
        }
    }
}
