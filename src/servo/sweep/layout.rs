//! How a text is laid out: what separates cells, what marks decimals, where the first row stands.

use super::Separator;
use super::cells::{begins_like_a_number, cells, comment, may_be_row, number};

/// Lines looked at, spread over the whole text.
const SAMPLE: usize = 400;

/// In order of preference where several read the same.
pub(in crate::servo) const WAYS: [(Separator, bool); 10] = [
    (Separator::Tab, false),
    (Separator::Semicolon, false),
    (Separator::Bar, false),
    (Separator::Comma, false),
    (Separator::Blanks, false),
    (Separator::Tab, true),
    (Separator::Semicolon, true),
    (Separator::Bar, true),
    // Decimal commas in quotes.
    (Separator::Comma, true),
    (Separator::Blanks, true),
];

/// A text's layout.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Layout {
    pub separator: Separator,
    pub decimal_comma: bool,
    /// Lines before the first row.
    pub header: usize,
    /// Columns of most rows.
    pub width: usize,
    /// Columns that hold numbers in most rows, in ascending order.
    pub numeric: Vec<usize>,
}

/// The layout in which most lines are rows of three numbers or more, if there is one.
pub(super) fn layout(lines: &[&str]) -> Option<Layout> {
    let sample = sample(lines);
    let tried =
        WAYS.map(|(separator, decimal_comma)| Tried::new(&sample, separator, decimal_comma));
    // Of equals the first.
    let mut best = tried.iter().rev().max_by_key(|tried| tried.rows)?;
    let blanks = &tried[WAYS.len() - 1];
    // "1,5, 2,3, 4,5": six columns, all without a decimal point, are no sweep.
    if best.separator == Separator::Comma
        && best.whole
        && blanks.rows >= best.rows
        && blanks.width < best.width
    {
        best = blanks;
    }
    if best.rows == 0 {
        return None;
    }
    let is_row = |line: &&str| {
        let numbers =
            |cells: Vec<Option<f64>>| best.numeric.iter().filter(|&&c| cells[c].is_some()).count();
        read(line, best.separator, best.decimal_comma)
            .filter(|cells| cells.len() == best.width)
            .is_some_and(|cells| numbers(cells) >= best.numeric.len().div_ceil(2).max(2))
    };
    Some(Layout {
        separator: best.separator,
        decimal_comma: best.decimal_comma,
        header: lines.iter().position(is_row)?,
        width: best.width,
        numeric: best.numeric.clone(),
    })
}

/// How many cells most lines have, trailing empty ones not counted; 0 where there is no line.
pub(super) fn width(lines: &[&str], separator: Separator) -> usize {
    let widths = sample(lines)
        .iter()
        .map(|line| used(line, separator))
        .collect();
    most_common(widths)
}

/// How many cells the line has up to its last one that is not empty.
fn used(line: &str, separator: Separator) -> usize {
    let filled = cells(line, separator)
        .enumerate()
        .filter(|(_, cell)| !cell.is_empty());
    filled.last().map_or(0, |(at, _)| at + 1)
}

/// What one way of reading makes of the sample.
struct Tried {
    separator: Separator,
    decimal_comma: bool,
    /// Lines of `width` cells with three numbers or more.
    rows: usize,
    width: usize,
    numeric: Vec<usize>,
    /// Whether no decimal point stands in these.
    whole: bool,
}

impl Tried {
    fn new(sample: &[&str], separator: Separator, decimal_comma: bool) -> Tried {
        let rows = sample.iter().filter_map(|line| {
            let cells = read(line, separator, decimal_comma)?;
            (cells.iter().flatten().count() >= 3).then_some((line, cells))
        });
        let mut rows: Vec<_> = rows.collect();
        let width = most_common(rows.iter().map(|(_, cells)| cells.len()).collect());
        rows.retain(|(_, cells)| cells.len() == width);
        let in_most = |&column: &usize| {
            let numbers = rows.iter().filter(|(_, cells)| cells[column].is_some());
            2 * numbers.count() > rows.len()
        };
        let bare = |line: &&&str| !line.contains('.');
        Tried {
            separator,
            decimal_comma,
            rows: rows.len(),
            width,
            numeric: (0..width).filter(in_most).collect(),
            whole: rows.iter().all(|(line, _)| bare(line)),
        }
    }
}

/// The numbers of a line's cells, trailing empty cells left out; none where the line is a comment.
fn read(line: &str, separator: Separator, decimal_comma: bool) -> Option<Vec<Option<f64>>> {
    if comment(line).is_some() && !may_be_row(line, separator) {
        return None;
    }
    let used = used(line, separator);
    let cells = cells(line, separator).take(used);
    Some(cells.map(|cell| number(cell, decimal_comma)).collect())
}

/// Some of the lines that may be rows.
fn sample<'a>(lines: &[&'a str]) -> Vec<&'a str> {
    let may_be = |line: &&&str| {
        begins_like_a_number(line)
            || !line.trim_start().is_empty()
                && (comment(line).is_none() || line.trim_start().starts_with(['"', '\'', ';']))
    };
    let rows: Vec<&str> = lines.iter().filter(may_be).copied().collect();
    rows.iter()
        .copied()
        .step_by(rows.len().div_ceil(SAMPLE).max(1))
        .collect()
}

/// The value that occurs most often, of equals the largest; 0 where there is none.
fn most_common(mut values: Vec<usize>) -> usize {
    values.sort_unstable();
    let runs = values.chunk_by(|a, b| a == b);
    runs.max_by_key(|run| run.len()).map_or(0, |run| run[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> (Separator, bool, usize, usize) {
        let lines: Vec<&str> = text.lines().collect();
        let found = layout(&lines).expect("a table");
        (
            found.separator,
            found.decimal_comma,
            found.header,
            found.width,
        )
    }

    #[test]
    fn separators_and_decimals() {
        use Separator::*;
        for (text, expected) in [
            ("1\t2\t3\n2\t2\t3", (Tab, false, 0, 3)),
            ("1,5;2,5;3\n2;2;3", (Semicolon, true, 0, 3)),
            (
                "| f | m | p |\n|---|---|---|\n| 1.5 | 2 | 3 |",
                (Bar, false, 2, 3),
            ),
            ("1, 2.5, 3\n2, 2, 3", (Comma, false, 0, 3)),
            ("1, 2, 3\n2, 2, 3", (Comma, false, 0, 3)),
            ("1,5, 2,3, 4,5\n2,5, 2,3, 4,5", (Blanks, true, 0, 3)),
            (
                "1,5, 2, 4,5\n2,5, 2,3, 4\n3,5, 2,1, 4,1",
                (Blanks, true, 0, 3),
            ),
            ("# a\n\nf m p\n 1.5  2 3\n", (Blanks, false, 3, 3)),
            (
                "\"1,5\",\"2\",\"3\"\n\"1\",\"2,5\",\"3\"",
                (Comma, true, 0, 3),
            ),
        ] {
            assert_eq!(of(text), expected, "{text}");
        }
    }

    #[test]
    fn two_columns_are_no_table() {
        assert_eq!(layout(&["1 2", "2 3"]), None);
        assert_eq!(layout(&["words", ""]), None);
    }
}
