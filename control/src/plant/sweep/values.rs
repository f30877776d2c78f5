//! What the values of columns tell where no name does.

use super::cells::cells;
use super::layout::Layout;
use super::numbers::real;
use super::rows::rows;
use super::{Columns, MagnitudeUnit, PhaseUnit};

/// Rows looked at where the whole text is not needed.
const SAMPLE: usize = 400;

/// A little above 2π: no wrapped phase in radians is larger.
const TURN: f64 = 7.0;

/// Beyond this a phase is hardly in radians, even unwrapped.
const TURNS: f64 = 40.0;

/// No ratio is as large in dB.
const MOST_DECIBELS: f64 = 400.0;

/// Some rows' numbers, NaN where a cell holds none.
pub(super) struct Table {
    rows: Vec<Vec<f64>>,
    /// The first few rows, one after the other.
    first: Vec<Vec<f64>>,
}

impl Table {
    pub fn new(lines: &[&str], layout: &Layout, columns: &Columns) -> Table {
        let all: Vec<&str> = rows(lines, columns).map(|(_, line)| line).collect();
        let numbers = |line: &&str| -> Vec<f64> {
            let row = cells(line, columns.separator);
            let mut row: Vec<f64> = row
                .take(layout.width)
                .map(|cell| real(cell, columns.decimal_comma).unwrap_or(f64::NAN))
                .collect();
            row.resize(layout.width, f64::NAN);
            row
        };
        Table {
            rows: all
                .iter()
                .step_by(all.len().div_ceil(SAMPLE).max(1))
                .map(numbers)
                .collect(),
            first: all.iter().take(20).map(numbers).collect(),
        }
    }

    /// The column that is likeliest to be the frequency, of those that no name tells; `numeric` are all
    /// columns of numbers.
    pub fn frequency(&self, open: &[usize], numeric: &[usize]) -> usize {
        let mut ordered = open
            .iter()
            .copied()
            .filter(|&c| self.is_positive(c) && self.is_ordered(c));
        let first = ordered.next();
        // A number of the row stands before a frequency that has two columns after it.
        let second = ordered.next().filter(|&second| {
            let after = numeric.iter().filter(|&&column| column > second).count();
            after >= 2 && first.is_some_and(|first| self.counts_rows(first))
        });
        let positive = || open.iter().copied().find(|&c| self.is_positive(c));
        second
            .or(first)
            .or_else(positive)
            .or(open.first().copied())
            .unwrap_or(0)
    }

    /// Whether most values lie between 0 and 1.
    pub fn is_fraction(&self, column: usize) -> bool {
        let within = |row: &&Vec<f64>| (0.0..=1.001).contains(&row[column]);
        2 * self.rows.iter().filter(within).count() > self.rows.len()
    }

    /// Whether most values are above 0.
    fn is_positive(&self, column: usize) -> bool {
        let below = self.rows.iter().filter(|row| row[column] <= 0.0).count();
        4 * below <= self.rows.len()
    }

    /// Whether most steps go one way.
    fn is_ordered(&self, column: usize) -> bool {
        let steps = self
            .rows
            .windows(2)
            .map(|rows| rows[1][column] - rows[0][column]);
        let up = steps.clone().filter(|step| *step > 0.0).count();
        let down = steps.filter(|step| *step < 0.0).count();
        10 * up.max(down) >= 9 * self.rows.len().saturating_sub(1)
    }

    /// Whether the first rows have whole numbers one after the other.
    pub fn counts_rows(&self, column: usize) -> bool {
        let mut steps = self
            .first
            .windows(2)
            .map(|rows| rows[1][column] - rows[0][column]);
        self.first.len() > 2 && steps.all(|step| step == 1.0)
    }
}

/// The extremes of two columns over the whole text: one negative value among many decides.
pub(super) struct Extremes {
    lowest: [f64; 2],
    largest: [f64; 2],
}

impl Extremes {
    pub fn new(lines: &[&str], columns: &Columns, pair: [usize; 2]) -> Extremes {
        let mut extremes = Extremes {
            lowest: [f64::INFINITY; 2],
            largest: [0.0; 2],
        };
        let last = pair[0].max(pair[1]);
        for (_, line) in rows(lines, columns) {
            for (at, cell) in cells(line, columns.separator).take(last + 1).enumerate() {
                let Some(side) = pair.iter().position(|&column| column == at) else {
                    continue;
                };
                if let Some(value) = real(cell, columns.decimal_comma).filter(|x| x.is_finite()) {
                    extremes.lowest[side] = extremes.lowest[side].min(value);
                    extremes.largest[side] = extremes.largest[side].max(value.abs());
                }
            }
        }
        extremes
    }

    /// Whether two columns without a name are real and imaginary part rather than magnitude and phase.
    pub fn is_cartesian(&self, table: &Table, first: usize, second: usize) -> bool {
        if self.lowest[0] >= 0.0 {
            return false;
        }
        let [a, b] = self.largest;
        if a > MOST_DECIBELS {
            return true;
        }
        if b <= TURN {
            // Decibels reach further than radians do.
            return a <= 4.0 * b;
        }
        // Both parts fall off together; decibels and degrees stay large.
        let mut sizes: Vec<f64> = table
            .rows
            .iter()
            .map(|row| row[first].hypot(row[second]))
            .filter(|x| x.is_finite())
            .collect();
        sizes.sort_by(f64::total_cmp);
        sizes
            .last()
            .is_some_and(|most| sizes[sizes.len() / 2] < 0.05 * most)
    }

    /// The magnitude's likeliest unit, and a note on why.
    pub fn magnitude(&self, column: usize, notes: &mut Vec<String>) -> MagnitudeUnit {
        let (unit, why) = if self.lowest[0] < 0.0 {
            (MagnitudeUnit::Decibels, "dB: it has values below 0")
        } else {
            (
                MagnitudeUnit::Ratio,
                "a ratio: it has no value below 0, though dB may have none either",
            )
        };
        notes.push(format!(
            "No unit of the magnitude is named; column {} is taken as {why}.",
            column + 1
        ));
        unit
    }

    /// The phase's likeliest unit, and a note on why.
    pub fn phase(&self, column: usize, notes: &mut Vec<String>) -> PhaseUnit {
        let (unit, why) = if self.largest[1] > TURNS {
            (
                PhaseUnit::Degrees,
                "degrees: its values are far beyond a turn in radians",
            )
        } else if self.largest[1] > TURN {
            (
                PhaseUnit::Degrees,
                "degrees: its values are beyond a turn in radians, though unwrapped radians may be",
            )
        } else {
            (
                PhaseUnit::Radians,
                "radians: its values are within a turn, though small degrees would be, too",
            )
        };
        notes.push(format!(
            "No unit of the phase is named; column {} is taken as {why}.",
            column + 1
        ));
        unit
    }
}
