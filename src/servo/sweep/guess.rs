//! What the columns hold, from their names and else from their values.

use super::layout::Layout;
use super::names::{Meaning, Role};
use super::values::{Extremes, Table};
use super::{Columns, FrequencyUnit, Response};

/// The likeliest meaning of the columns, with sentences on what the text does not tell.
pub(super) fn guess(lines: &[&str], layout: &Layout, names: &[String]) -> (Columns, Vec<String>) {
    let meaning = |column| names.get(column).map(|name: &String| Meaning::of(name));
    let text = Text {
        lines,
        layout,
        meanings: (0..layout.width)
            .map(|column| meaning(column).unwrap_or_default())
            .collect(),
    };
    let mut notes = Vec::new();
    let mut columns = Columns {
        separator: layout.separator,
        decimal_comma: layout.decimal_comma,
        header: layout.header,
        ..Columns::default()
    };
    let table = Table::new(lines, layout, &columns);
    let frequency = text
        .named(Role::Frequency)
        .unwrap_or_else(|| table.frequency(&text.open(&[]), &layout.numeric));
    columns.frequency = frequency;
    columns.frequency_unit = text.meanings[frequency].frequency.unwrap_or_else(|| {
        notes.push(format!(
            "No unit of the frequency is named; column {} is taken as Hz.",
            frequency + 1
        ));
        FrequencyUnit::Hertz
    });
    columns.response = match (text.named(Role::Real), text.named(Role::Imaginary)) {
        (Some(real), Some(imaginary)) => Response::Cartesian { real, imaginary },
        _ => text.response(&columns, &table, &mut notes),
    };
    (columns, notes)
}

/// A text with what its names say.
struct Text<'a> {
    lines: &'a [&'a str],
    layout: &'a Layout,
    /// One for each column.
    meanings: Vec<Meaning>,
}

impl Text<'_> {
    /// The first column of numbers with a name of this meaning.
    fn named(&self, role: Role) -> Option<usize> {
        let mut numeric = self.layout.numeric.iter().copied();
        numeric.find(|&column| self.meanings[column].role == Some(role))
    }

    /// Columns of numbers that are not taken: those that no name tells, or all where names tell each.
    fn open(&self, taken: &[usize]) -> Vec<usize> {
        let free = self
            .layout
            .numeric
            .iter()
            .copied()
            .filter(|column| !taken.contains(column));
        let (open, told): (Vec<usize>, Vec<usize>) =
            free.partition(|&c| self.meanings[c].role.is_none());
        if open.is_empty() { told } else { open }
    }

    /// Magnitude and phase, or two columns that no name tells.
    fn response(&self, columns: &Columns, table: &Table, notes: &mut Vec<String>) -> Response {
        let frequency = columns.frequency;
        // Columns after the frequency first.
        let free = |taken: usize| {
            let open = self.open(&[frequency, taken]);
            open.iter()
                .copied()
                .min_by_key(|&c| (c < frequency, c))
                .unwrap_or(taken)
        };
        let named = (self.named(Role::Magnitude), self.named(Role::Phase));
        let (magnitude, phase) = match named {
            (Some(magnitude), Some(phase)) => (magnitude, phase),
            (Some(magnitude), None) => (magnitude, free(magnitude)),
            (None, Some(phase)) => (free(phase), phase),
            (None, None) => {
                let first = free(frequency);
                (first, free(first))
            }
        };
        let units = (
            self.meanings[magnitude].magnitude,
            self.meanings[phase].phase,
        );
        if let (Some(_), Some(_), (Some(magnitude_unit), Some(phase_unit))) =
            (named.0, named.1, units)
        {
            return Response::Polar {
                magnitude,
                magnitude_unit,
                phase,
                phase_unit,
            };
        }
        let extremes = Extremes::new(self.lines, columns, [magnitude, phase]);
        if named.0.is_none() || named.1.is_none() {
            let cartesian = named == (None, None) && extremes.is_cartesian(table, magnitude, phase);
            notes.push(format!(
                "The names do not tell all of the response; columns {} and {} are taken as {}.",
                magnitude + 1,
                phase + 1,
                if cartesian {
                    "real and imaginary part"
                } else {
                    "magnitude and phase"
                }
            ));
            if cartesian {
                return Response::Cartesian {
                    real: magnitude,
                    imaginary: phase,
                };
            }
        }
        Response::Polar {
            magnitude,
            magnitude_unit: units
                .0
                .unwrap_or_else(|| extremes.magnitude(magnitude, notes)),
            phase,
            phase_unit: units.1.unwrap_or_else(|| extremes.phase(phase, notes)),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::servo::sweep::read;

    fn of(text: &str) -> String {
        read(text, None).columns.to_string()
    }

    #[test]
    fn values_tell_where_names_do_not() {
        for (text, says) in [
            (
                "1 -3 -20\n2 -9 -90\n4 -30 -170",
                "2: magnitude in dB; column 3: phase in degrees",
            ),
            (
                "1 -3 -0.2\n2 -9 -1.5\n4 -30 -3",
                "2: magnitude in dB; column 3: phase in radians",
            ),
            (
                "1 1 -20\n2 0.7 -90\n4 0.1 -170",
                "2: magnitude as a ratio; column 3: phase in degrees",
            ),
            (
                "1 1 -0.2\n2 0.3 -1.5\n4 -0.1 -0.3",
                "2: real part; column 3: imaginary part",
            ),
            (
                "0 10 1 -9\n1 20 2 -90\n2 40 1 -99",
                "2: frequency in Hz; column 3: magnitude as a ratio",
            ),
        ] {
            assert!(of(text).contains(says), "{text}: {}", of(text));
        }
    }

    #[test]
    fn names_go_before_values() {
        let text = "phase (deg),level (dB),f (kHz)\n1,2,3\n2,3,4\n";
        assert_eq!(
            of(text),
            "Column 3: frequency in kHz; column 2: magnitude in dB; column 1: phase in degrees"
        );
        let text = "coherence,w (rad/s),x,y\n1,2,-0.3,0.1\n1,3,-0.4,0.2\n";
        assert_eq!(
            of(text),
            "Column 2: frequency in rad/s; column 3: real part; column 4: imaginary part"
        );
    }
}
