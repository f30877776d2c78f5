//! Whether a comma in a number marks thousands or decimals. Where the text does not decide, the user does.

use super::Separator;
use super::cells::cells;
use super::numbers::real;

/// What commas within numbers mark, where every number can be read both ways.
pub(super) enum Marks {
    Thousands,
    Decimals,
    /// A sentence on what is not told.
    Either(String),
}

/// What commas in the cells mark, in rows whose numbers are such with a decimal point and with a decimal comma.
///
/// A table whose numbers all have a comma is printed with three decimals; thousands would be in few of them. Else
/// the column that is in order with one meaning only decides, as frequencies are.
pub(super) fn marks(
    sample: &[&str],
    separator: Separator,
    numeric: &[usize],
    width: usize,
) -> Marks {
    let rows: Vec<Vec<&str>> = sample
        .iter()
        .map(|line| cells(line, separator).collect::<Vec<_>>())
        .filter(|cells| {
            cells.len() >= width && numeric.iter().all(|&c| real(cells[c], false).is_some())
        })
        .collect();
    let mut all = rows
        .iter()
        .flat_map(|row| numeric.iter().map(move |&c| row[c]));
    let Some(shown) = all.clone().find(|cell| cell.contains(',')) else {
        return Marks::Thousands;
    };
    if all.all(|cell| cell.contains(',')) {
        return Marks::Decimals;
    }
    let ordered = |column: usize, decimal_comma: bool| {
        let values: Vec<f64> = rows
            .iter()
            .filter_map(|row| real(row[column], decimal_comma))
            .collect();
        let up = values.windows(2).all(|pair| pair[1] > pair[0]);
        let down = values.windows(2).all(|pair| pair[1] < pair[0]);
        values.len() > 2 && (up || down)
    };
    let marked = numeric
        .iter()
        .filter(|&&c| rows.iter().any(|row| row[c].contains(',')));
    let (mut thousands, mut decimals) = (false, false);
    for &column in marked {
        match (ordered(column, false), ordered(column, true)) {
            (true, false) => thousands = true,
            (false, true) => decimals = true,
            _ => {}
        }
    }
    match (thousands, decimals) {
        (true, false) => Marks::Thousands,
        (false, true) => Marks::Decimals,
        _ => Marks::Either(format!(
            "Nothing tells whether the comma in numbers like \"{shown}\" marks thousands or decimals. Say so by the \
             decimal sign, or save the table without marks between thousands."
        )),
    }
}
