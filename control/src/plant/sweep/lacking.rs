//! Texts that are no sweep, and what is missing in them.

use super::bounds::{LONGEST_LINE, MOST_COLUMNS, is_short};
use super::cells::{cells, comment};
use super::layout::{WAYS, layout};
use super::names::{Meaning, Role, names};
use super::numbers::real;

/// What every refusal ends with.
pub(super) const ACCEPTED: &str = "A sweep is a table with a row for each frequency: the frequency, and either \
                                   magnitude and phase or real and imaginary part, with tabs, semicolons, commas, \
                                   bars or blanks between them.";

/// Why a part of the response is not done without.
pub(super) const WITHOUT: &str =
    "Without it a loop cannot be closed; export it along with the others.";

/// A sentence on a text that has no rows of three numbers.
pub(super) fn lacking(lines: &[&str]) -> String {
    if lines.iter().all(|line| line.trim().is_empty()) {
        return format!("The text is empty. {ACCEPTED}");
    }
    if let Some(sentence) = beyond_bounds(lines) {
        return format!("{sentence} {ACCEPTED}");
    }
    let Some(layout) = layout(lines, 2) else {
        return match layout(lines, 1) {
            Some(_) => format!(
                "The rows have one number each, where a sweep needs three: the frequency and the two parts of the \
                 response. {ACCEPTED}"
            ),
            None => format!("There is no row of numbers. {ACCEPTED}"),
        };
    };
    let names = names(&lines[..layout.header], layout.separator, layout.width);
    let has = |role: Role| {
        let numeric = layout.numeric.iter();
        numeric
            .filter_map(|&column| names.get(column))
            .any(|name| Meaning::of(name).role == Some(role))
    };
    let missing = if has(Role::Real) {
        "the imaginary part is missing"
    } else if has(Role::Imaginary) {
        "the real part is missing"
    } else if has(Role::Phase) && has(Role::Frequency) {
        "the magnitude is missing"
    } else if has(Role::Phase) && has(Role::Magnitude) {
        "the frequency is missing"
    } else if has(Role::Magnitude) {
        "the phase is missing"
    } else {
        "the phase, or the imaginary part, is missing"
    };
    format!("The rows have two numbers each: {missing}. {WITHOUT} {ACCEPTED}")
}

/// A sentence on the first line that is too long, or has too many numbers, for a row.
fn beyond_bounds(lines: &[&str]) -> Option<String> {
    let is_wide = |line: &str| {
        WAYS.iter().any(|&(separator, decimal_comma)| {
            let mut cells = cells(line, separator);
            let first = cells.next();
            first.is_some_and(|cell| real(cell, decimal_comma).is_some())
                && cells.nth(MOST_COLUMNS - 1).is_some()
        })
    };
    let rows = lines.iter().enumerate();
    let rows = rows.filter(|(_, line)| comment(line).is_none());
    let mut sentences = rows.filter_map(|(at, line)| {
        let number = at + 1;
        if !is_short(line) {
            Some(format!(
                "Line {number} has {} characters; a row may have {LONGEST_LINE} at most.",
                line.chars().count()
            ))
        } else if is_wide(line) {
            Some(format!(
                "Line {number} has more than {MOST_COLUMNS} numbers; a row may have {MOST_COLUMNS} at most."
            ))
        } else {
            None
        }
    });
    sentences.next()
}
