//! Which lines of a text are rows of its table.

use super::Columns;
use super::cells::{begins_like_a_number, cells, comment, may_be_row, without_remark};
use super::numbers::real;

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
