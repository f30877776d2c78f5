//! From a text to a sweep.

use super::Columns;
use super::cells::{begins_like_a_number, cells, lines};
use super::doubt::joined;
use super::guess::{Guess, Phase, guess};
use super::lacking::{ACCEPTED, WITHOUT, lacking};
use super::layout::{Layout, layout, sample, width};
use super::names::names;
use super::reading::Reading;
use super::touchstone::Touchstone;

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
///
/// Magnitudes without a phase are refused, as no loop can be closed round them.
pub fn read(text: &str, how: Option<&Columns>) -> Reading {
    read_with(text, how, Phase::Needed)
}

/// Reads a measured response as [`read`] does a sweep, and one whose phase was not measured, too: all its points are
/// real then, and [`Columns::has_phase`] tells.
pub fn read_measured(text: &str, how: Option<&Columns>) -> Reading {
    read_with(text, how, Phase::MayLack)
}

fn read_with(text: &str, how: Option<&Columns>, phase: Phase) -> Reading {
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
            let mut reading = Reading::new(&lines, *columns, width, names, Vec::new());
            if phase == Phase::Needed && !columns.has_phase() {
                reading.refuse(format!("The phase is missing. {WITHOUT} {ACCEPTED}"));
            }
            reading
        }
        None => match laid_out(&lines, phase) {
            Some(layout) => guessed(&lines, &layout, phase),
            None => Reading {
                error: Some(lacking(&lines)),
                ..Reading::empty(Columns::default())
            },
        },
    }
}

/// The layout of a table that has numbers enough in a row.
fn laid_out(lines: &[&str], phase: Phase) -> Option<Layout> {
    let whole = || layout(lines, 3);
    if phase == Phase::Needed {
        return whole();
    }
    // Where most rows have two cells, those of three are no response.
    let narrow = layout(lines, 2)?;
    match narrow.width {
        2 => Some(narrow),
        _ => whole().or(Some(narrow)),
    }
}

fn guessed(lines: &[&str], layout: &Layout, phase: Phase) -> Reading {
    let header = &lines[..layout.header];
    if let Some(touchstone) = Touchstone::of(header) {
        return of_touchstone(lines, layout, touchstone);
    }
    let names = names(header, layout.separator, layout.width);
    let Guess {
        columns,
        notes,
        lacking,
    } = guess(lines, layout, &names, phase);
    let doubt = layout.doubt.clone().or_else(|| {
        joined(
            header,
            &sample(&lines[layout.header..]),
            layout,
            phase.least(),
        )
    });
    let mut reading = Reading::new(lines, columns, layout.width, names, notes);
    if let Some(doubt) = doubt {
        reading.refuse(doubt);
        reading.doubt = true;
    } else if let Some(lacking) = lacking {
        reading.refuse(format!("{lacking} {ACCEPTED}"));
    } else if phase == Phase::MayLack && is_preceded(header, reading.rows) {
        reading.refuse(format!(
            "Not all lines of numbers have the same columns. {ACCEPTED}"
        ));
    }
    reading
}

/// Whether lines of numbers stand before so many rows, as where a mark between thousands cuts some rows only: two numbers
/// are soon found in anything.
fn is_preceded(header: &[&str], rows: usize) -> bool {
    let before = header.iter().filter(|line| begins_like_a_number(line));
    4 * before.count() > rows
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

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

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
