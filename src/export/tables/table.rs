//! A table, and how it is written (RFC 4180).

use csv::{Terminator, WriterBuilder};

use crate::quantity::Unit;

/// Columns with names, and rows as long.
pub(in crate::export) struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One cell.
pub(in crate::export) enum Cell<'a> {
    Words(&'a str),
    /// Empty where it is no number.
    Number(f64),
    Maybe(Option<f64>),
    Count(u64),
    Truth(bool),
}

impl Table {
    pub fn new<N: Into<String>>(header: impl IntoIterator<Item = N>) -> Table {
        Table {
            header: header.into_iter().map(Into::into).collect(),
            rows: Vec::new(),
        }
    }

    /// Columns side by side; a short one ends in empty cells.
    pub fn of_columns<N: Into<String>>(columns: Vec<(N, &[f64])>) -> Table {
        let length = columns.iter().map(|(_, column)| column.len()).max();
        let mut rows: Vec<Vec<String>> = vec![Vec::new(); length.unwrap_or(0)];
        let mut header = Vec::new();
        for (name, column) in columns {
            header.push(name.into());
            for (at, row) in rows.iter_mut().enumerate() {
                row.push(
                    column
                        .get(at)
                        .map_or_else(String::new, |value| number(*value)),
                );
            }
        }
        Table { header, rows }
    }

    pub fn row<'a>(&mut self, cells: impl IntoIterator<Item = Cell<'a>>) {
        self.rows.push(cells.into_iter().map(Cell::text).collect());
    }

    /// Lines end as the RFC has it, and texts are quoted where they must be.
    ///
    /// # Errors
    /// A sentence where a row is not as long as the header, which is a mistake in this room.
    pub fn written(&self) -> Result<String, String> {
        let mut builder = WriterBuilder::new();
        let mut writer = builder.terminator(Terminator::CRLF).from_writer(Vec::new());
        let told = |error: csv::Error| format!("The table cannot be written: {error}.");
        writer.write_record(&self.header).map_err(told)?;
        for row in &self.rows {
            writer.write_record(row).map_err(told)?;
        }
        let bytes = writer.into_inner().map_err(|error| error.to_string())?;
        String::from_utf8(bytes).map_err(|error| error.to_string())
    }
}

impl Cell<'_> {
    fn text(self) -> String {
        match self {
            Cell::Words(words) => words.to_owned(),
            Cell::Number(value) => number(value),
            Cell::Maybe(value) => value.map_or_else(String::new, number),
            Cell::Count(count) => count.to_string(),
            Cell::Truth(truth) => if truth { "yes" } else { "no" }.to_owned(),
        }
    }
}

/// With a decimal point, every digit, and an exponent where there would be many zeros; nothing for what is no number.
pub(super) fn number(value: f64) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let text = format!("{value:?}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// A name with the unit of its SI numbers, in words that every program shows.
pub(in crate::export) fn unit_name(unit: Unit) -> &'static str {
    match unit {
        Unit::Ohm => "ohm",
        Unit::Farad => "F",
        Unit::Hertz => "Hz",
        Unit::Second => "s",
        Unit::Volt => "V",
        Unit::Ampere => "A",
        Unit::Watt => "W",
        Unit::VoltPerRootHertz => "V/sqrt(Hz)",
        Unit::AmperePerRootHertz => "A/sqrt(Hz)",
        Unit::VoltPerMicrosecond => "V/s",
        Unit::VoltPerKelvin => "V/K",
        Unit::Celsius => "degC",
        Unit::Decibel => "dB",
        Unit::Degree => "deg",
        Unit::Kelvin => "K",
        // Numbers stay as they are in the outcome: fractions.
        Unit::Percent | Unit::One => "1",
        Unit::PpmPerKelvin => "1/K",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn written_as_the_rfc_has_it() {
        let mut table = Table::new(["Name", "Value (Hz)"]);
        table.row([Cell::Words("a, \"b\""), Cell::Number(1.5e-9)]);
        table.row([Cell::Words(""), Cell::Number(f64::NAN)]);
        table.row([Cell::Words("c"), Cell::Number(2350.0)]);
        assert_eq!(
            table.written().expect("a table"),
            "Name,Value (Hz)\r\n\"a, \"\"b\"\"\",1.5e-9\r\n,\r\nc,2350\r\n"
        );
    }

    #[test]
    fn short_columns_end_in_empty_cells() {
        let table = Table::of_columns(vec![("a", &[1.0, 2.0][..]), ("b", &[3.0])]);
        assert_eq!(table.written().expect("a table"), "a,b\r\n1,3\r\n2,\r\n");
    }
}
