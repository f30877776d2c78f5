//! How a text is laid out: what separates cells, what marks decimals, where the first row stands.

use super::Separator;
use super::bounds::{MOST_COLUMNS, is_short};
use super::cells::{begins_like_a_number, cells, comment, may_be_row, without_remark};
use super::marks::{Marks, marks};
use super::numbers::{complex, real};
use crate::numerics::put_in_order;

/// Lines looked at, spread over the whole text.
const SAMPLE: usize = 400;

/// In order of preference where several read the same.
pub(crate) const WAYS: [(Separator, bool); 10] = [
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
    /// Columns that hold real numbers in most rows, in ascending order.
    pub numeric: Vec<usize>,
    /// Columns that hold complex numbers in most rows, in ascending order.
    pub complex: Vec<usize>,
    /// Where the text can be read in two ways, a sentence on them.
    pub doubt: Option<String>,
}

/// What a cell holds.
#[derive(Clone, Copy, PartialEq)]
enum Held {
    Word,
    Real,
    Complex,
}

/// The layout in which most lines are rows of `least` numbers or more, if there is one; a complex number is two.
pub(super) fn layout(lines: &[&str], least: usize) -> Option<Layout> {
    let sample = sample(lines);
    let tried =
        WAYS.map(|(separator, decimal_comma)| Tried::new(&sample, separator, decimal_comma, least));
    // Of equals the one that leaves the fewest words, and of those the first.
    let key = |tried: &&Tried| (tried.rows, std::cmp::Reverse(tried.words));
    let mut best = tried.iter().rev().max_by_key(key)?;
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
    let other = tried.iter().find(|other| {
        other.separator == best.separator && other.decimal_comma && !best.decimal_comma
    });
    let mut doubt = None;
    if let Some(other) = other.filter(|o| o.rows == best.rows && o.width == best.width) {
        match marks(&sample, best.separator, &best.numeric, best.width) {
            Marks::Decimals => best = other,
            Marks::Thousands => {}
            Marks::Either(sentence) => (best, doubt) = (other, Some(sentence)),
        }
    }
    let numbers: Vec<usize> = best.numeric.iter().chain(&best.complex).copied().collect();
    let is_row = |line: &&str| {
        let Some(cells) = read(line, best.separator, best.decimal_comma) else {
            return false;
        };
        let held = |c: &usize| cells.get(*c).is_some_and(|held| *held != Held::Word);
        let usual = cells.len() == best.width
            && numbers.iter().filter(|c| held(c)).count()
                >= numbers.len().div_ceil(2).max(least.min(2));
        // A row of numbers alone is one, if a bad one.
        usual || cells.len() >= least && !cells.contains(&Held::Word)
    };
    Some(Layout {
        separator: best.separator,
        decimal_comma: best.decimal_comma,
        header: lines.iter().position(is_row)?,
        width: best.width,
        numeric: best.numeric.clone(),
        complex: best.complex.clone(),
        doubt,
    })
}

/// How many cells most lines have, trailing empty ones not counted; 0 where there is no line.
pub(super) fn width(lines: &[&str], separator: Separator) -> usize {
    let widths = sample(lines)
        .iter()
        .map(|line| used(line, separator).min(MOST_COLUMNS))
        .collect();
    most_common(widths)
}

/// How many cells the line has up to its last one that is not empty.
fn used(line: &str, separator: Separator) -> usize {
    let filled = cells(line, separator)
        .take(MOST_COLUMNS + 1)
        .enumerate()
        .filter(|(_, cell)| !cell.is_empty());
    filled.last().map_or(0, |(at, _)| at + 1)
}

/// What one way of reading makes of the sample.
struct Tried {
    separator: Separator,
    decimal_comma: bool,
    /// Lines of `width` cells with numbers enough.
    rows: usize,
    width: usize,
    /// Cells of these that are no numbers.
    words: usize,
    numeric: Vec<usize>,
    complex: Vec<usize>,
    /// Whether no decimal point stands in these.
    whole: bool,
}

impl Tried {
    fn new(sample: &[&str], separator: Separator, decimal_comma: bool, least: usize) -> Tried {
        let numbers = |cells: &[Held]| {
            let count = |held: &Held| match held {
                Held::Word => 0,
                Held::Real => 1,
                Held::Complex => 2,
            };
            cells.iter().map(count).sum::<usize>()
        };
        let rows = sample.iter().filter_map(|line| {
            let cells = read(line, separator, decimal_comma)?;
            let is_row = numbers(&cells) >= least && cells.contains(&Held::Real);
            (is_row && cells.len() <= MOST_COLUMNS).then_some((line, cells))
        });
        let mut rows: Vec<_> = rows.collect();
        let width = most_common(rows.iter().map(|(_, cells)| cells.len()).collect());
        rows.retain(|(_, cells)| cells.len() == width);
        let count = |column: usize, held: Held| {
            rows.iter()
                .filter(|(_, cells)| cells[column] == held)
                .count()
        };
        let (mut numeric, mut complex) = (Vec::new(), Vec::new());
        for column in 0..width {
            let (reals, others) = (count(column, Held::Real), count(column, Held::Complex));
            // A complex number without an imaginary part may be written as a real one.
            if 2 * (reals + others) > rows.len() {
                if others > reals {
                    complex.push(column);
                } else {
                    numeric.push(column);
                }
            }
        }
        let bare = |line: &&&str| !line.contains('.');
        Tried {
            separator,
            decimal_comma,
            rows: rows.len(),
            width,
            words: (0..width).map(|column| count(column, Held::Word)).sum(),
            numeric,
            complex,
            whole: rows.iter().all(|(line, _)| bare(line)),
        }
    }
}

/// What a line's cells hold, trailing empty cells left out; none where the line is a comment or too long. Of more
/// cells than a table may have one more is told.
fn read(line: &str, separator: Separator, decimal_comma: bool) -> Option<Vec<Held>> {
    if !is_short(line) || comment(line).is_some() && !may_be_row(line, separator) {
        return None;
    }
    let used = used(line, separator);
    let cells = cells(line, separator).take(used);
    // Between commas, "5 200" is the middle of "1,5 200,3", not a number.
    let parted = |cell: &str| separator == Separator::Comma && cell.contains(' ');
    Some(
        cells
            .map(|cell| match real(cell, decimal_comma) {
                Some(_) if !parted(cell) => Held::Real,
                Some(_) => Held::Word,
                None if complex(cell, decimal_comma).is_some() => Held::Complex,
                None => Held::Word,
            })
            .collect(),
    )
}

/// Some of the lines that may be rows.
pub(super) fn sample<'a>(lines: &[&'a str]) -> Vec<&'a str> {
    let may_be = |line: &&&str| {
        is_short(line)
            && (begins_like_a_number(line)
                || !line.trim_start().is_empty()
                    && (comment(line).is_none() || line.trim_start().starts_with(['"', '\'', ';'])))
    };
    let rows: Vec<&str> = lines.iter().filter(may_be).copied().collect();
    rows.iter()
        .map(|line| without_remark(line))
        .step_by(rows.len().div_ceil(SAMPLE).max(1))
        .collect()
}

/// The value that occurs most often, of equals the largest; 0 where there is none.
fn most_common(mut values: Vec<usize>) -> usize {
    put_in_order(&mut values, usize::cmp);
    let runs = values.chunk_by(|a, b| a == b);
    runs.max_by_key(|run| run.len()).map_or(0, |run| run[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> (Separator, bool, usize, usize) {
        let lines: Vec<&str> = text.lines().collect();
        let found = layout(&lines, 3).expect("a table");
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
        assert_eq!(layout(&["1 2", "2 3"], 3), None);
        assert_eq!(layout(&["words", ""], 3), None);
    }
}
