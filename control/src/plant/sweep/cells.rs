//! Lines, cells and numbers of a text.

use super::Separator;

/// Longer numbers are none; the longest that is ever written has some 25 characters.
const LONGEST: usize = 64;

/// The lines of a text without its byte order mark; they may end in LF, CR LF or, where there is no LF,
/// in CR.
pub(crate) fn lines(text: &str) -> impl Iterator<Item = &str> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let end = if text.contains('\n') { '\n' } else { '\r' };
    text.split(end).map(|line| line.trim_end_matches('\r'))
}

/// The line without the mark of a comment and what belongs to it, where there is one.
pub(crate) fn comment(line: &str) -> Option<&str> {
    if begins_like_a_number(line) {
        return None;
    }
    let line = line.trim();
    let bare = line.trim_start_matches(['#', '%', '!', '/', ';', '"', '\'']);
    // One slash is none, but `//` is.
    (bare.len() < line.len() && (!line.starts_with('/') || line.starts_with("//")))
        .then(|| bare.trim())
}

/// The line up to a remark at its end, ` ! …`.
pub(super) fn without_remark(line: &str) -> &str {
    match line.find(" !").or_else(|| line.find("\t!")) {
        Some(end) => &line[..end],
        None => line,
    }
}

/// What most rows do, so that they need no closer look.
pub(super) fn begins_like_a_number(line: &str) -> bool {
    let first = line.as_bytes().first();
    first.is_some_and(|byte| byte.is_ascii_digit())
}

/// Whether a row may begin like this comment: a cell in quotes, or an empty one before a semicolon.
pub(crate) fn may_be_row(line: &str, separator: Separator) -> bool {
    let line = line.trim_start();
    line.starts_with(['"', '\'']) || separator == Separator::Semicolon && line.starts_with(';')
}

/// The cells of a line, without blanks and quotes around them.
pub(crate) fn cells(line: &str, separator: Separator) -> Cells<'_> {
    let line = match separator {
        // A leading tab is an empty cell.
        Separator::Tab => line.trim_matches(' '),
        Separator::Bar => {
            let line = line.trim();
            let line = line.strip_prefix('|').unwrap_or(line);
            line.strip_suffix('|').unwrap_or(line)
        }
        _ => line.trim(),
    };
    Cells {
        rest: (!line.is_empty()).then_some(line),
        separator,
    }
}

/// The cells of a line, one after the other.
pub(crate) struct Cells<'a> {
    rest: Option<&'a str>,
    separator: Separator,
}

impl<'a> Iterator for Cells<'a> {
    type Item = &'a str;

    fn next(&mut self) -> Option<&'a str> {
        let rest = self.rest?;
        let mark = match self.separator {
            Separator::Tab => b'\t',
            Separator::Semicolon => b';',
            Separator::Bar => b'|',
            Separator::Comma => b',',
            Separator::Blanks => {
                let end = rest.find(char::is_whitespace);
                let (cell, after) = rest.split_at(end.unwrap_or(rest.len()));
                let after = after.trim_start();
                self.rest = (!after.is_empty()).then_some(after);
                return Some(unquoted(cell));
            }
        };
        // A mark between quotes is part of the cell.
        let quoted = quoted(rest);
        let end = rest.as_bytes()[quoted..].iter().position(|&b| b == mark);
        let end = end.map(|end| quoted + end);
        self.rest = end.map(|end| &rest[end + 1..]);
        Some(unquoted(rest[..end.unwrap_or(rest.len())].trim()))
    }
}

/// How many bytes the text's first cell has between quotes and before them.
fn quoted(text: &str) -> usize {
    let start = text.len() - text.trim_start_matches(' ').len();
    let Some(inner) = text[start..].strip_prefix('"') else {
        return 0;
    };
    inner.find('"').map_or(0, |end| start + end + 2)
}

fn unquoted(cell: &str) -> &str {
    let pair = |mark| cell.strip_prefix(mark)?.strip_suffix(mark);
    match cell.as_bytes().first() {
        Some(b'"') => pair('"').map_or(cell, str::trim),
        Some(b'\'') => pair('\'').map_or(cell, str::trim),
        _ => cell,
    }
}

/// The cell's number, which may be NaN or infinite; exponents may be Fortran's (`1.0D3`), the minus sign a
/// printer's (`−`).
pub(crate) fn number(cell: &str, decimal_comma: bool) -> Option<f64> {
    number_by(cell, decimal_comma, |text| text.parse().ok())
}

/// The same, where `read` tells what a number with a point is.
pub(crate) fn number_by(
    cell: &str,
    decimal_comma: bool,
    read: impl Fn(&str) -> Option<f64>,
) -> Option<f64> {
    if !decimal_comma && let Some(number) = read(cell) {
        return Some(number);
    }
    let cell = if decimal_comma {
        cell.strip_suffix(',').unwrap_or(cell)
    } else {
        cell
    };
    let mut plain = [0; LONGEST];
    let mut length = 0;
    let mut rest = cell.as_bytes();
    while let [first, after @ ..] = rest {
        let (byte, after) = match first {
            b',' if decimal_comma => (b'.', after),
            b'.' if decimal_comma => return None,
            b'd' | b'D' => (b'e', after),
            // U+2212, the printer's minus, in UTF-8.
            0xe2 => (b'-', rest.strip_prefix(&[0xe2, 0x88, 0x92])?),
            other => (*other, after),
        };
        *plain.get_mut(length)? = byte;
        length += 1;
        rest = after;
    }
    read(std::str::from_utf8(&plain[..length]).ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(line: &str, separator: Separator) -> Vec<&str> {
        cells(line, separator).collect()
    }

    #[test]
    fn cells_are_cut_at_marks_and_not_in_quotes() {
        assert_eq!(
            split(" 1 ; 2;;3;", Separator::Semicolon),
            ["1", "2", "", "3", ""]
        );
        assert_eq!(split("\"1,5\", \"2\"", Separator::Comma), ["1,5", "2"]);
        assert_eq!(split("| 1 | 2 |", Separator::Bar), ["1", "2"]);
        assert_eq!(split("\t1\t2", Separator::Tab), ["", "1", "2"]);
        assert_eq!(split("  1 \t 2 ", Separator::Blanks), ["1", "2"]);
        assert_eq!(split("", Separator::Comma), [""; 0]);
    }

    #[test]
    fn numbers_as_they_are_found() {
        for (cell, comma, value) in [
            ("1.5", false, 1.5),
            ("1,5", true, 1.5),
            ("-1,5,", true, -1.5),
            ("1.5D+03", false, 1500.0),
            ("\u{2212}2", false, -2.0),
            (".5e1", false, 5.0),
        ] {
            assert_eq!(number(cell, comma), Some(value), "{cell}");
        }
        for (cell, comma) in [
            ("1,5", false),
            ("1.5", true),
            ("", false),
            ("D", false),
            ("5 Hz", false),
        ] {
            assert_eq!(number(cell, comma), None, "{cell}");
        }
        assert!(number("NaN", false).is_some_and(f64::is_nan));
    }

    #[test]
    fn remarks_end_a_row() {
        assert_eq!(without_remark("1 2 3 ! noisy"), "1 2 3");
        assert_eq!(without_remark("1 2 3"), "1 2 3");
    }

    #[test]
    fn comments_lose_their_marks() {
        assert_eq!(comment("## f"), Some("f"));
        assert_eq!(comment("// f"), Some("f"));
        assert_eq!(comment("/f"), None);
        assert_eq!(comment("f"), None);
    }

    #[test]
    fn lines_end_in_every_way() {
        assert_eq!(
            lines("\u{feff}a\r\nb\n").collect::<Vec<_>>(),
            ["a", "b", ""]
        );
        assert_eq!(lines("a\rb").collect::<Vec<_>>(), ["a", "b"]);
    }
}
