//! From a text to a sweep.

use num_complex::Complex64;

use super::cells::{begins_like_a_number, cells, comment, lines, may_be_row, number};
use super::guess::guess;
use super::layout::{Layout, layout, width};
use super::names::names;
use super::{Columns, MagnitudeUnit, PhaseUnit, Point, Response, Separator, Sweep};

/// Rows shown, so that a user sees what the columns are.
const PREVIEW: usize = 6;

/// Bad rows kept with their reasons; the others are only counted.
const MOST_BAD: usize = 100;

/// Frequencies that are read, Hz.
const FREQUENCIES: std::ops::RangeInclusive<f64> = 1e-6..=1e12;

/// Magnitudes that are read: squares of them and of their inverses are numbers.
const SIZES: std::ops::RangeInclusive<f64> = 1e-100..=1e100;

const ACCEPTED: &str = "A sweep is a table with a row for each frequency: the frequency, and either magnitude and \
                        phase or real and imaginary part, with tabs, semicolons, commas, bars or blanks between \
                        them.";

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
    /// The good rows.
    pub sweep: Sweep,
    /// Sentences on what was done, and on what was guessed without a name to go by.
    pub notes: Vec<String>,
    /// Where there is no good row: a sentence that says what is accepted.
    pub error: Option<String>,
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
/// that share a frequency are averaged as complex numbers. Blank lines and lines that begin like a comment
/// (`#`, `%`, `!`, `//`, `;`, `"`) are skipped. Whether bad rows may be left out is the caller's affair.
pub fn read(text: &str, how: Option<&Columns>) -> Reading {
    let lines: Vec<&str> = lines(text).collect();
    match how {
        Some(columns) => {
            let start = columns.header.min(lines.len());
            let width = width(&lines[start..], columns.separator);
            let names = names(&lines[..start], columns.separator, width);
            Reading::new(&lines, *columns, width, names, Vec::new())
        }
        None => match layout(&lines) {
            Some(layout) => guessed(&lines, &layout),
            None => Reading {
                error: Some(format!("There is no row of three numbers. {ACCEPTED}")),
                ..Reading::empty(Columns::default())
            },
        },
    }
}

fn guessed(lines: &[&str], layout: &Layout) -> Reading {
    let names = names(&lines[..layout.header], layout.separator, layout.width);
    let (columns, notes) = guess(lines, layout, &names);
    Reading::new(lines, columns, layout.width, names, notes)
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
    below.filter(move |(_, line)| is_row(line))
}

/// Whether a line that begins like a comment has a number where the frequency should be.
fn is_row_after_all(line: &str, columns: &Columns) -> bool {
    may_be_row(line, columns.separator)
        && cells(line, columns.separator)
            .nth(columns.frequency)
            .is_some_and(|cell| number(cell, columns.decimal_comma).is_some())
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
            sweep: Sweep::default(),
            notes: Vec::new(),
            error: None,
        }
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
            match point(line, &columns, width) {
                Ok(point) => reading.sweep.points.push(point),
                Err(bad) => {
                    reading.bad_rows += 1;
                    if reading.bad.len() < MOST_BAD {
                        let (text, reason) = (cut(line.trim(), 60), bad.sentence(&columns));
                        reading.bad.push(BadRow {
                            line: at + 1,
                            text,
                            reason,
                        });
                    }
                }
            }
        }
        in_order(&mut reading.sweep, &mut reading.notes);
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

/// What is wrong with a row; a sentence is made only of the few that are shown.
enum Bad<'a> {
    Short { cells: usize, missing: usize },
    Uneven { cells: usize, width: usize },
    NoNumber { which: usize, cell: &'a str },
    NotFinite { which: usize },
    Frequency,
    Ratio,
    Size,
}

impl Bad<'_> {
    fn sentence(&self, columns: &Columns) -> String {
        let [first, second] = columns.response.names();
        let name = |which: usize| ["frequency", first, second][which];
        match *self {
            Bad::Short { cells, missing } => format!(
                "The row has {} and no column {}, which is the {}.",
                counted(cells, "cell"),
                columns.needed()[missing].saturating_add(1),
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
        }
    }
}

/// A row's point.
fn point<'a>(line: &'a str, columns: &Columns, width: usize) -> Result<Point, Bad<'a>> {
    let needed = columns.needed();
    let mut picked = [None; 3];
    let (mut count, mut used) = (0, 0);
    for cell in cells(line, columns.separator) {
        for (column, place) in needed.iter().zip(&mut picked) {
            if *column == count {
                *place = Some(cell);
            }
        }
        count += 1;
        if !cell.is_empty() {
            used = count;
        }
    }
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
    let mut values = [0.0; 3];
    for (which, value) in values.iter_mut().enumerate() {
        let cell = picked[which].unwrap_or_default();
        *value = number(cell, columns.decimal_comma).ok_or(Bad::NoNumber { which, cell })?;
        if !value.is_finite() {
            return Err(Bad::NotFinite { which });
        }
    }
    let [frequency, first, second] = values;
    let frequency = frequency * columns.frequency_unit.hertz();
    if !FREQUENCIES.contains(&frequency) {
        return Err(Bad::Frequency);
    }
    let response = match columns.response {
        Response::Cartesian { .. } => Complex64::new(first, second),
        Response::Polar {
            magnitude_unit,
            phase_unit,
            ..
        } => {
            let magnitude = match magnitude_unit {
                MagnitudeUnit::Decibels => 10f64.powf(first / 20.0),
                MagnitudeUnit::Ratio if first < 0.0 => return Err(Bad::Ratio),
                MagnitudeUnit::Ratio => first,
            };
            Complex64::from_polar(
                magnitude,
                match phase_unit {
                    // Whole turns go before they cost digits.
                    PhaseUnit::Degrees => (second % 360.0).to_radians(),
                    PhaseUnit::Radians => second,
                },
            )
        }
    };
    if !SIZES.contains(&response.norm()) {
        return Err(Bad::Size);
    }
    Ok(Point::new(frequency, response))
}

/// Sorts by frequency, averages rows that share one, and tells of both.
fn in_order(sweep: &mut Sweep, notes: &mut Vec<String>) {
    let points = &mut sweep.points;
    if points.is_sorted_by(|a, b| a.frequency < b.frequency) {
        return;
    }
    if !points.is_sorted_by(|a, b| a.frequency <= b.frequency) {
        points.sort_by(|a, b| a.frequency.total_cmp(&b.frequency));
        notes.push("Rows were not in order of frequency; sorted.".to_owned());
    }
    let (mut doubled, mut lost) = (0, 0);
    let mut single = Vec::with_capacity(points.len());
    for run in points.chunk_by(|a, b| a.frequency == b.frequency) {
        if let [point] = run {
            single.push(*point);
            continue;
        }
        doubled += run.len();
        let response = run
            .iter()
            .map(|point| point.response / run.len() as f64)
            .sum::<Complex64>();
        if SIZES.contains(&response.norm()) {
            single.push(Point { response, ..run[0] });
        } else {
            lost += run.len();
        }
    }
    if doubled > 0 {
        notes.push(format!(
            "{doubled} rows share a frequency with another; averaged."
        ));
    }
    if lost > 0 {
        notes.push(format!("{lost} of these cancel each other; left out."));
    }
    *points = single;
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
            ("", None, "There is no row of three numbers."),
            ("1 2\n2 3", None, "There is no row of three numbers."),
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
