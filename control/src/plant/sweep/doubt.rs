//! Texts that can be read in more ways than one: whether a comma stands between the numbers and in them. Nothing here
//! is a matter of taste: where the text does not decide, the user does.

use super::Separator;
use super::layout::Layout;
use super::names::{Header, tells};
use super::numbers::{real, ungrouped};

/// Where a comma or a blank stands between cells: a sentence if cells may belong together two by two.
///
/// A line of names above them with as many cells as the rows settles the matter, and so does one with fewer. A row has
/// `least` numbers or more.
pub(super) fn joined(
    header: &[&str],
    sample: &[&str],
    layout: &Layout,
    least: usize,
) -> Option<String> {
    let header = Header::new(header, layout.separator);
    let named = (least..=layout.width).rev().find(|&width| {
        let names = header.names(width);
        names.iter().filter(|name| tells(name)).count() > 1
    });
    if named == Some(layout.width) {
        return None;
    }
    let mark = match layout.separator {
        Separator::Comma => "comma",
        Separator::Blanks => "blank",
        _ => return None,
    };
    let rows = rows(sample, layout, least);
    let shown: String = rows.first()?.0.trim().chars().take(40).collect();
    if layout.separator == Separator::Comma
        && !layout.decimal_comma
        && may_be_decimals(&rows, least)
    {
        return Some(format!(
            "Commas seem to stand both between numbers and for the decimal point: \"{shown}\" may be read in two ways. \
             Save the table with semicolons or tabs between columns, or with decimal points."
        ));
    }
    if layout.separator == Separator::Comma
        && let Some(named) = named
    {
        return Some(format!(
            "The names are {named} and the rows have {} cells; a comma may stand within numbers: \"{shown}\" may be \
             read in two ways. Save the table with semicolons or tabs between columns.",
            layout.width
        ));
    }
    may_be_thousands(&rows, layout.width, named.is_some()).then(|| {
        format!(
            "A {mark} seems to stand both between numbers and between thousands: \"{shown}\" may be read in two ways. \
             Save the table without marks between thousands, or with semicolons or tabs between columns."
        )
    })
}

/// Lines of a sample with their cells, in the raw, as ", 5" never is what follows a decimal sign. What is no row (a line
/// of names, a remark) says nothing and is left out.
fn rows<'a>(sample: &[&'a str], layout: &Layout, least: usize) -> Vec<(&'a str, Vec<String>)> {
    let split = |line: &str| -> Vec<String> {
        match layout.separator {
            Separator::Comma => line.split(',').map(str::to_owned).collect(),
            _ => line.split_whitespace().map(str::to_owned).collect(),
        }
    };
    let is_number = |cell: &&String| real(cell.trim(), layout.decimal_comma).is_some();
    let all = sample.iter().map(|&line| (line, split(line)));
    all.filter(|(_, row)| row.iter().filter(is_number).count() >= least)
        .collect()
}

/// Whether two neighbouring columns may be one, of numbers with marks between thousands: all rows of the full width look
/// like that there. A column that counts the rows before them looks like that too, unless names tell of fewer columns.
fn may_be_thousands(rows: &[(&str, Vec<String>)], width: usize, has_fewer_names: bool) -> bool {
    let wide = |row: &&Vec<String>| row.len() == width;
    let own: Vec<_> = rows.iter().map(|(_, row)| row).filter(wide).collect();
    (1..width).any(|next| {
        let pair = |row: &&Vec<String>| is_head(&row[next - 1]) && is_group(&row[next]);
        let zero = |row: &&Vec<String>| row[next].starts_with('0');
        // A number of the row before a frequency counts.
        let counts = |pair: &[&Vec<String>]| {
            let heads = [0, 1].map(|k| real(&pair[k][next - 1], false));
            heads[0].map(|head| head + 1.0) == heads[1]
        };
        own.iter().all(pair)
            && (has_fewer_names || own.iter().any(zero) || !own.windows(2).all(counts))
    })
}

/// Whether all rows are as many numbers with decimal commas, some of which may lack their decimals.
fn may_be_decimals(rows: &[(&str, Vec<String>)], least: usize) -> bool {
    let is_point =
        |cell: &String| cell.contains(['.', '"']) && ungrouped(cell.trim(), true).is_none();
    if rows.iter().flat_map(|(_, row)| row).any(is_point) {
        return false;
    }
    let widest = rows.iter().map(|(_, row)| row.len()).max().unwrap_or(0);
    let narrowest = rows.iter().map(|(_, row)| row.len()).min().unwrap_or(0);
    // As few whole numbers as that are a row as they stand.
    if widest <= least {
        return false;
    }
    let least = rows.iter().map(|(_, row)| row.len() - pairs(row)).max();
    least.is_some_and(|least| (2.max(least)..=narrowest).any(|numbers| numbers < widest))
}

/// How many cells can be another's decimals at most.
fn pairs(row: &[String]) -> usize {
    let (mut found, mut at) = (0, 1);
    while at < row.len() {
        if is_whole(&row[at - 1]) && is_decimals(&row[at]) {
            found += 1;
            at += 2;
        } else {
            at += 1;
        }
    }
    found
}

/// Digits, or groups of three of them.
fn is_whole(cell: &str) -> bool {
    let digits = cell.trim_start().trim_start_matches(['+', '-', '\u{2212}']);
    let is_plain = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    is_plain
        || ungrouped(digits, true).is_some_and(|plain| !plain.contains([',', 'e', 'E', 'd', 'D']))
}

fn is_decimals(cell: &str) -> bool {
    let digits = cell.trim_end();
    let (digits, exponent) = match digits.find(['e', 'E', 'd', 'D']) {
        Some(at) => (&digits[..at], &digits[at + 1..]),
        None => (digits, "0"),
    };
    !digits.is_empty()
        && digits.bytes().all(|byte| byte.is_ascii_digit())
        && exponent.parse::<i32>().is_ok()
}

/// One to three digits that may stand before a mark between thousands.
fn is_head(cell: &str) -> bool {
    let digits = cell.trim_start_matches(['+', '-', '\u{2212}']);
    let is_plain = digits.bytes().all(|byte| byte.is_ascii_digit());
    (1..=3).contains(&digits.len()) && !digits.starts_with('0') && is_plain
}

/// Three digits, and no more before the decimal sign.
fn is_group(cell: &str) -> bool {
    let end = cell
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(cell.len());
    end == 3
}

#[cfg(test)]
mod tests {
    use crate::plant::sweep::read;

    #[test]
    fn what_can_be_read_in_two_ways_is_said() {
        for (text, says) in [
            (
                "1,5,1,0,-10,0\n2,5,0,9,-20,5\n",
                "Commas seem to stand both",
            ),
            // Decimals that are left out where they are 0.
            (
                "1,5,1,-10\n2,0,9,-20,5\n3,0,8,-21\n",
                "Commas seem to stand both",
            ),
            (
                "1,000;-3;-10\n2,000;-4;-20\n3,000;-6;-50\n",
                "Nothing tells whether",
            ),
            (
                "1,000.5,-3.5,-10.2\n1,250.5,-3.6,-11.2\n",
                "A comma seems to stand both",
            ),
            (
                "1 000.5 -3.5 -10.2\n1 250.5 -3.6 -11.2\n",
                "A blank seems to stand both",
            ),
        ] {
            let reading = read(text, None);
            let error = reading.error.expect("a doubt");
            assert!(error.starts_with(says) && reading.doubt, "{error}");
        }
    }

    #[test]
    fn what_the_text_decides_is_read() {
        for (text, first) in [
            ("900;-3;-10\n1,000;-4;-20\n1,100;-6;-50\n", 900.0),
            ("1,000;-3,125;-10,500\n2,000;-3,125;-11,000\n", 1.0),
            ("f,dB,deg,a,b,c\n1,5,1,0,10,0\n2,5,0,9,20,5\n", 1.0),
            ("1 000;-3,5;-10\n2 000;-3,5;-10\n", 1000.0),
            ("1'000.5\t-3\t-10\n2'000.5\t-3\t-10\n", 1000.5),
            ("1.000,5\t-3\t-10\n2.000,5\t-3\t-10\n", 1000.5),
            ("\"1,000.5\",-3.5,-10\n\"2,000.5\",-3.5,-10\n", 1000.5),
            ("1.000\t-3.125\t-10.500\n2.000\t-3.125\t-11.000\n", 1.0),
            ("1, 5, 10, 20\n2, 6, 11, 20\n", 1.0),
        ] {
            let reading = read(text, None);
            let points = &reading.sweep.points;
            assert_eq!(reading.error, None, "{text}");
            assert_eq!(points[0].frequency, first, "{text} {}", reading.columns);
        }
    }
}
