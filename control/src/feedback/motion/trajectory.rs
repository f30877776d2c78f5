//! A user's own motion: rows of time and position.

use serde::{Deserialize, Serialize};

use crate::json;
use crate::plant::sweep::Separator;
use crate::plant::sweep::cells::{cells, comment, lines, may_be_row, number_by};
use crate::plant::sweep::layout::WAYS;

/// Rows at most.
const MOST: usize = 100_000;
/// Rows from which the layout is told.
const SAMPLE: usize = 400;
/// Largest time (s) and position, by size.
const LARGEST: f64 = 1e12;

/// Positions over time, straight between rows, and at rest before the first and after the last. Times are the loop's
/// own: rows that begin at 0.1 s act at 0.1 s.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trajectory {
    /// Seconds, strictly rising; and positions in the unit of the reference.
    pub rows: Vec<(f64, f64)>,
}

impl Trajectory {
    /// Reads two columns, time in seconds and position, with tabs, semicolons, bars, commas or blanks
    /// between them. Lines before the first row, blank ones and comments are skipped.
    ///
    /// # Errors
    /// A sentence that names the line.
    pub fn read(text: &str) -> Result<Trajectory, String> {
        let lines: Vec<&str> = lines(text).collect();
        let (separator, comma) = layout(&lines).ok_or(
            "There is no row of two numbers. A trajectory is a table with a row for each time: the time in \
             seconds and the position, with tabs, semicolons, commas, bars or blanks between them.",
        )?;
        let mut rows: Vec<(f64, f64)> = Vec::new();
        for (at, line) in lines.iter().enumerate() {
            if is_blank(line, separator) {
                continue;
            }
            match row(line, separator, comma) {
                Ok(row) => {
                    good(&rows, row).map_err(|why| format!("Line {}: {why}", at + 1))?;
                    rows.push(row);
                }
                // Whatever stands above the first row is a header.
                Err(_) if rows.is_empty() => {}
                Err(why) => return Err(format!("Line {}: {why}", at + 1)),
            }
        }
        let trajectory = Trajectory { rows };
        trajectory.check()?;
        Ok(trajectory)
    }

    /// Whether the rows are a motion.
    ///
    /// # Errors
    /// A sentence that names the row, counted from 1.
    pub fn check(&self) -> Result<(), String> {
        if self.rows.len() < 2 {
            return Err("A trajectory needs two rows at least.".to_owned());
        }
        if self.rows.len() > MOST {
            return Err(format!("A trajectory has {MOST} rows at most."));
        }
        for at in 0..self.rows.len() {
            good(&self.rows[..at], self.rows[at])
                .map_err(|why| format!("Row {} of the trajectory: {why}", at + 1))?;
        }
        Ok(())
    }

    /// The position at a time in seconds.
    pub fn at(&self, time: f64) -> f64 {
        let next = self.rows.partition_point(|row| row.0 <= time);
        let (Some(last), Some(next)) = (next.checked_sub(1), self.rows.get(next)) else {
            return if next == 0 { self.first() } else { self.last() };
        };
        let (t, x) = self.rows[last];
        x + (next.1 - x) * ((time - t) / (next.0 - t))
    }

    /// Time of the first row, s.
    pub fn start(&self) -> f64 {
        self.rows.first().map_or(0.0, |row| row.0)
    }

    /// From the first row to the last, s.
    pub fn duration(&self) -> f64 {
        self.rows.last().map_or(0.0, |row| row.0) - self.start()
    }

    /// Between the lowest and the highest position.
    pub fn travel(&self) -> f64 {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let positions = self.rows.iter().map(|row| row.1);
        let (low, high) = positions.fold(ends, |(low, high), x| (low.min(x), high.max(x)));
        (high - low).max(0.0)
    }

    /// The rows between two times, both ends among them.
    pub(super) fn within(&self, from: f64, to: f64) -> &[(f64, f64)] {
        let first = self.rows.partition_point(|row| row.0 < from);
        let end = self.rows.partition_point(|row| row.0 <= to);
        self.rows.get(first..end).unwrap_or_default()
    }

    /// How long it rests before its first row, counted from t = 0, s; 0 where that row's time is below 0.
    pub(super) fn rest(&self) -> f64 {
        self.start().max(0.0)
    }

    pub(super) fn first(&self) -> f64 {
        self.rows.first().map_or(0.0, |row| row.1)
    }

    pub(super) fn last(&self) -> f64 {
        self.rows.last().map_or(0.0, |row| row.1)
    }
}

/// The way in which most lines are two numbers, of equals the first.
fn layout(lines: &[&str]) -> Option<(Separator, bool)> {
    let read = |&(separator, comma): &(Separator, bool)| {
        let rows = lines.iter().filter(|line| !is_blank(line, separator));
        rows.step_by(lines.len().div_ceil(SAMPLE).max(1))
            .filter(|line| row(line, separator, comma).is_ok())
            .count()
    };
    let best = WAYS.iter().rev().max_by_key(|way| read(way))?;
    (read(best) > 0).then_some(*best)
}

fn is_blank(line: &str, separator: Separator) -> bool {
    line.trim().is_empty() || comment(line).is_some() && !may_be_row(line, separator)
}

/// A number; what is too large for one, or no finite one, is without end, and the range refuses it.
fn size(text: &str) -> Option<f64> {
    let word = text.trim_start_matches(['-', '+']).to_ascii_lowercase();
    let is_endless = json::is_number(text) || matches!(word.as_str(), "inf" | "infinity" | "nan");
    json::number(text).or(is_endless.then_some(f64::INFINITY))
}

/// A line's two numbers, or what is wrong with it.
fn row(line: &str, separator: Separator, comma: bool) -> Result<(f64, f64), String> {
    let mut found: Vec<&str> = cells(line, separator).collect();
    while found.last().is_some_and(|cell| cell.is_empty()) {
        found.pop();
    }
    let [time, position] = found[..] else {
        let count = found.len();
        let s = if count == 1 { "" } else { "s" };
        return Err(format!(
            "a row is a time and a position, and this one has {count} cell{s}."
        ));
    };
    let number = |name: &str, cell: &str| {
        let shown: String = cell.chars().take(20).collect();
        number_by(cell, comma, size).ok_or(format!("the {name}, \"{shown}\", is not a number."))
    };
    Ok((number("time", time)?, number("position", position)?))
}

/// Whether a row may follow these.
fn good(before: &[(f64, f64)], (time, position): (f64, f64)) -> Result<(), String> {
    let fits = |v: f64| v.abs() <= LARGEST;
    if !fits(time) || !fits(position) {
        return Err(format!(
            "time and position must lie between −{LARGEST:e} and {LARGEST:e}."
        ));
    }
    match before.last() {
        Some(last) if time <= last.0 => Err(format!(
            "the time must rise, and {time} s comes after {} s.",
            last.0
        )),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_columns_in_every_dress() {
        for text in [
            "t x\n0 1\n0.5 2.5\n",
            "time;position\n0;1\n0,5;2,5",
            "# s, m\n0, 1\n0.5, 2.5,\n",
            "0\t1\r\n0,5\t2,5\r\n",
            "| t | x |\n|---|---|\n| 0 | 1 |\n| 0.5 | 2.5 |",
        ] {
            let read = Trajectory::read(text).expect("two rows");
            assert_eq!(read.rows, [(0.0, 1.0), (0.5, 2.5)], "{text}");
        }
    }

    #[test]
    fn a_bad_row_is_named() {
        for (text, says) in [
            ("", "There is no row of two numbers."),
            ("0 1", "A trajectory needs two rows"),
            (
                "0 1\n1 2\n1 3",
                "Line 3: the time must rise, and 1 s comes after 1 s.",
            ),
            (
                "0;1\n1;2\n2;x",
                "Line 3: the position, \"x\", is not a number.",
            ),
            (
                "0 1\n1 2\n2 3 4",
                "Line 3: a row is a time and a position, and this one has 3 cells.",
            ),
            ("0 1\n1 inf\n", "Line 2: time and position must lie"),
        ] {
            let error = Trajectory::read(text).unwrap_err();
            assert!(error.starts_with(says), "{error}");
        }
    }

    #[test]
    fn straight_between_rows_and_at_rest_outside() {
        let read = Trajectory::read("1 0\n3 4").expect("two rows");
        assert_eq!(
            [0.0, 1.0, 2.0, 3.0, 9.0].map(|t| read.at(t)),
            [0.0, 0.0, 2.0, 4.0, 4.0]
        );
        assert_eq!(
            (read.start(), read.duration(), read.travel()),
            (1.0, 2.0, 4.0)
        );
    }
}
