//! Numbers as measuring instruments and mathematics programs write them: with marks between thousands, and
//! complex ones in one cell.

use num_complex::Complex64;

use super::cells::number;

/// What may stand between groups of three digits beside comma and point: blanks, also those that do not break,
/// and apostrophes.
const MARKS: [char; 6] = [' ', '\u{a0}', '\u{202f}', '\u{2009}', '\'', '\u{2019}'];

/// The cell's number; thousands may be set apart (`1,000.5`, `1 000,5`, `1'000.5`, `1.000,5`).
pub(super) fn real(cell: &str, decimal_comma: bool) -> Option<f64> {
    number(cell, decimal_comma).or_else(|| number(&ungrouped(cell, decimal_comma)?, decimal_comma))
}

/// The cell's number where it is complex: `1+2j`, `(1-2i)`, `1.5 + 0.2i`, `1-j2`, `2j`, `(1,2)`; none where the cell
/// holds a real number.
pub(super) fn complex(cell: &str, decimal_comma: bool) -> Option<Complex64> {
    let first = *cell.as_bytes().first()?;
    let bracketed = first == b'(';
    // Most cells are told by their last character.
    if !bracketed && !cell.contains(['i', 'j', 'I', 'J']) {
        return None;
    }
    let inner = match cell.strip_prefix('(') {
        Some(inner) => inner.strip_suffix(')')?,
        None => cell,
    };
    if let Some((re, im)) = inner
        .split_once(',')
        .filter(|_| bracketed && !decimal_comma)
    {
        let parts = [re, im].map(|part| number(part.trim(), false));
        return Some(Complex64::new(parts[0]?, parts[1]?));
    }
    if inner.len() > 2 * LONGEST || !inner.contains(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let mut plain: String = inner.chars().filter(|c| !c.is_whitespace()).collect();
    plain = plain.replace('\u{2212}', "-");
    let unit = |c: char| matches!(c, 'i' | 'j' | 'I' | 'J');
    let (re, im) = plain.split_at(second_sign(&plain).unwrap_or(0));
    let sign_end = im.len() - im.trim_start_matches(['+', '-']).len();
    let (sign, size) = im.split_at(sign_end);
    let size = match size.strip_suffix(unit) {
        Some(size) => size,
        None => size.strip_prefix(unit)?,
    };
    let size = if size.is_empty() {
        1.0
    } else if size.starts_with(['+', '-']) {
        return None;
    } else {
        number(size, decimal_comma)?
    };
    let im = match sign {
        "" | "+" => size,
        "-" => -size,
        _ => return None,
    };
    let re = if re.is_empty() {
        0.0
    } else {
        number(re, decimal_comma)?
    };
    Some(Complex64::new(re, im))
}

/// The longest number that is looked at.
const LONGEST: usize = 64;

/// Where the sign of the second part stands: the last one that is neither the first character nor an exponent's.
fn second_sign(plain: &str) -> Option<usize> {
    let bytes = plain.as_bytes();
    (1..bytes.len()).rev().find(|&at| {
        matches!(bytes[at], b'+' | b'-') && !matches!(bytes[at - 1] | 0x20, b'e' | b'd')
    })
}

/// The number without the marks between its thousands, if they are where they belong: one mark throughout, three
/// digits behind each, one to three before the first, and none of them a leading zero.
pub(super) fn ungrouped(cell: &str, decimal_comma: bool) -> Option<String> {
    if cell.len() > LONGEST {
        return None;
    }
    let (decimal, other) = if decimal_comma {
        (',', '.')
    } else {
        ('.', ',')
    };
    let bare = cell.trim_start_matches(['+', '-', '\u{2212}']);
    let end = bare
        .find([decimal, 'e', 'E', 'd', 'D'])
        .unwrap_or(bare.len());
    let (whole, rest) = bare.split_at(end);
    let mark = whole.chars().find(|c| !c.is_ascii_digit())?;
    if mark != other && !MARKS.contains(&mark) {
        return None;
    }
    let mut groups = whole.split(mark);
    let digits = |group: &str| group.bytes().all(|byte| byte.is_ascii_digit());
    let first = groups.next()?;
    if !(1..=3).contains(&first.len()) || first.starts_with('0') || !digits(first) {
        return None;
    }
    groups
        .all(|group| group.len() == 3 && digits(group))
        .then(|| {
            let sign = &cell[..cell.len() - bare.len()];
            format!("{sign}{}{rest}", whole.replace(mark, ""))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_may_be_set_apart() {
        for (cell, comma, value) in [
            ("1,000.5", false, 1000.5),
            ("1 000,5", true, 1000.5),
            ("1\u{a0}000,5", true, 1000.5),
            ("1'000.5", false, 1000.5),
            ("1.000,5", true, 1000.5),
            ("-12,345,678", false, -12_345_678.0),
            ("1,000e-3", false, 1.0),
        ] {
            assert_eq!(real(cell, comma), Some(value), "{cell}");
        }
        for (cell, comma) in [
            ("1,00.5", false),
            ("0,123", false),
            ("1234,567", false),
            ("1,000 000", false),
            ("1,0000", false),
            (",123", false),
            ("1.000.5", true),
        ] {
            assert_eq!(real(cell, comma), None, "{cell}");
        }
    }

    #[test]
    fn complex_numbers_in_every_dress() {
        for (cell, comma, re, im) in [
            ("1+2j", false, 1.0, 2.0),
            ("(1+2j)", false, 1.0, 2.0),
            ("1-2i", false, 1.0, -2.0),
            ("3.2e-3-4e-5j", false, 3.2e-3, -4e-5),
            ("-1.5 + 0.5i", false, -1.5, 0.5),
            ("1,5-0,5j", true, 1.5, -0.5),
            ("1-j2", false, 1.0, -2.0),
            ("1e+3+i", false, 1e3, 1.0),
            ("2e+3i", false, 0.0, 2e3),
            ("(1,-2)", false, 1.0, -2.0),
            ("1\u{2212}2j", false, 1.0, -2.0),
        ] {
            let found = complex(cell, comma);
            assert_eq!(found, Some(Complex64::new(re, im)), "{cell}");
        }
        for cell in [
            "i", "1", "1+2", "(1+2j", "f1i", "1+-2j", "j1j", "", "1 2j3", "inf",
        ] {
            assert_eq!(complex(cell, false), None, "{cell}");
        }
    }
}
