//! What the columns hold, from their names and else from their values.

use super::layout::Layout;
use super::names::{Meaning, Role};
use super::values::{Extremes, Table};
use super::{Columns, FrequencyUnit, Response, WeightColumn, WeightKind};

/// What the columns are taken for.
pub(super) struct Guess {
    pub columns: Columns,
    /// Sentences on what the text does not tell.
    pub notes: Vec<String>,
    /// A sentence where the names say that something is not there; the columns are then no more than a beginning.
    pub lacking: Option<String>,
}

/// Whether a response without its phase is one.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Phase {
    Needed,
    MayLack,
}

impl Phase {
    /// Numbers that a row has at least.
    pub fn least(self) -> usize {
        match self {
            Phase::Needed => 3,
            Phase::MayLack => 2,
        }
    }
}

/// The likeliest meaning of the columns.
pub(super) fn guess(lines: &[&str], layout: &Layout, names: &[String], phase: Phase) -> Guess {
    let meaning = |column| names.get(column).map(|name: &String| Meaning::of(name));
    let text = Text {
        lines,
        layout,
        meanings: (0..layout.width)
            .map(|column| meaning(column).unwrap_or_default())
            .collect(),
        phase,
    };
    let mut found = Guess {
        columns: Columns {
            separator: layout.separator,
            decimal_comma: layout.decimal_comma,
            header: layout.header,
            ..Columns::default()
        },
        notes: Vec::new(),
        lacking: None,
    };
    let table = Table::new(lines, layout, &found.columns);
    let frequency = text.named(Role::Frequency).or_else(|| {
        let open = text.open(&[]);
        (!open.is_empty()).then(|| table.frequency(&open, &layout.numeric))
    });
    if frequency.is_none() {
        found.lacking = Some(lacks("frequency"));
    }
    let frequency = frequency.unwrap_or(0);
    found.columns.frequency = frequency;
    found.columns.frequency_unit = text.meanings[frequency].frequency.unwrap_or_else(|| {
        found.notes.push(format!(
            "No unit of the frequency is named; column {} is taken as Hz.",
            frequency + 1
        ));
        FrequencyUnit::Hertz
    });
    text.response(&table, &mut found);
    text.weight(&table, &mut found);
    found
}

fn lacks(what: &str) -> String {
    format!("By the columns' names the {what} is missing.")
}

/// A text with what its names say.
struct Text<'a> {
    lines: &'a [&'a str],
    layout: &'a Layout,
    /// One for each column.
    meanings: Vec<Meaning>,
    phase: Phase,
}

impl Text<'_> {
    /// The first column of real numbers with a name of this meaning.
    fn named(&self, role: Role) -> Option<usize> {
        let mut numeric = self.layout.numeric.iter().copied();
        numeric.find(|&column| self.meanings[column].role == Some(role))
    }

    /// Columns of real numbers that are not taken and that no name tells; where names tell each, those that are
    /// told to be something else.
    fn open(&self, taken: &[usize]) -> Vec<usize> {
        let of = |role: Option<Role>| {
            let numeric = self.layout.numeric.iter().copied();
            let own = |c: &usize| !taken.contains(c) && self.meanings[*c].role == role;
            numeric.filter(own).collect::<Vec<usize>>()
        };
        let open = of(None);
        if open.is_empty() {
            of(Some(Role::Other))
        } else {
            open
        }
    }

    /// Complex numbers, or the two parts, or magnitude and phase, or two columns that no name tells.
    fn response(&self, table: &Table, found: &mut Guess) {
        let parts = (self.named(Role::Real), self.named(Role::Imaginary));
        found.columns.response = match (self.layout.complex.first(), parts) {
            (_, (Some(real), Some(imaginary))) => Response::Cartesian { real, imaginary },
            (Some(&column), _) => Response::Complex { column },
            (None, (Some(real), None)) if self.named(Role::Magnitude).is_none() => {
                self.half(found, "imaginary part", |imaginary| Response::Cartesian {
                    real,
                    imaginary,
                })
            }
            (None, (None, Some(imaginary))) if self.named(Role::Magnitude).is_none() => {
                self.half(found, "real part", |real| Response::Cartesian {
                    real,
                    imaginary,
                })
            }
            _ => self.polar(table, found),
        };
    }

    /// One part by its name, the other a column that no name tells.
    fn half(
        &self,
        found: &mut Guess,
        missing: &str,
        response: impl Fn(usize) -> Response,
    ) -> Response {
        let known = match response(usize::MAX) {
            Response::Cartesian { real, imaginary } => real.min(imaginary),
            _ => 0,
        };
        let open = self.open(&[found.columns.frequency, known]);
        match open.first() {
            Some(&column) => {
                found.notes.push(format!(
                    "No name tells the {missing}; column {} is taken for it.",
                    column + 1
                ));
                response(column)
            }
            None => {
                found.lacking.get_or_insert_with(|| lacks(missing));
                response(self.spare(&[found.columns.frequency, known]))
            }
        }
    }

    /// Any column that is not taken.
    fn spare(&self, taken: &[usize]) -> usize {
        (0..=taken.len())
            .find(|column| !taken.contains(column))
            .unwrap_or(0)
    }

    /// Magnitude and phase as their names say, and where these say too little, as the values do.
    fn polar(&self, table: &Table, found: &mut Guess) -> Response {
        let named = (self.named(Role::Magnitude), self.named(Role::Phase));
        if let Some(magnitudes) = self.magnitudes(named, found) {
            return magnitudes;
        }
        let (magnitude, phase) = self.magnitude_and_phase(named, table, found);
        // A column that is not there has no name.
        let meaning = |column: usize| self.meanings.get(column).copied().unwrap_or_default();
        let units = (meaning(magnitude).magnitude, meaning(phase).phase);
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
        let notes = &mut found.notes;
        let extremes = Extremes::new(self.lines, &found.columns, [magnitude, phase]);
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

    /// Magnitudes alone, where these may be and no column is left that could be the phase.
    fn magnitudes(
        &self,
        named: (Option<usize>, Option<usize>),
        found: &mut Guess,
    ) -> Option<Response> {
        if self.phase == Phase::Needed || named.1.is_some() {
            return None;
        }
        let frequency = found.columns.frequency;
        let is_open = |c: &usize| *c != frequency && self.meanings[*c].role.is_none();
        let mut open = self.layout.numeric.iter().copied().filter(is_open);
        let magnitude = match (named.0, open.next()) {
            (Some(magnitude), None) => magnitude,
            (None, Some(column)) if open.next().is_none() => {
                found.notes.push(format!(
                    "The names do not tell the response; column {} is taken as the magnitude.",
                    column + 1
                ));
                column
            }
            _ => return None,
        };
        let notes = &mut found.notes;
        notes.push("Phase not measured: no column has it.".to_owned());
        let named = self.meanings[magnitude].magnitude;
        let magnitude_unit = named.unwrap_or_else(|| {
            Extremes::new(self.lines, &found.columns, [magnitude; 2]).magnitude(magnitude, notes)
        });
        Some(Response::Magnitude {
            magnitude,
            magnitude_unit,
        })
    }

    /// The two columns, given those that names tell; what is in neither is noted as lacking.
    fn magnitude_and_phase(
        &self,
        named: (Option<usize>, Option<usize>),
        table: &Table,
        found: &mut Guess,
    ) -> (usize, usize) {
        let frequency = found.columns.frequency;
        let mut missing = None;
        // Named as something else, and no more than the rows' numbers.
        let counts =
            |c: &usize| self.meanings[*c].role == Some(Role::Other) && table.counts_rows(*c);
        // Columns after the frequency first.
        let mut free = |taken: usize, what: &'static str| {
            let open = self.open(&[frequency, taken]).into_iter();
            let open = open.filter(|column| !counts(column));
            let first = open.min_by_key(|&c| (c < frequency, c));
            first.unwrap_or_else(|| {
                missing.get_or_insert(what);
                self.spare(&[frequency, taken])
            })
        };
        let pair = match named {
            (Some(magnitude), Some(phase)) => (magnitude, phase),
            (Some(magnitude), None) => (magnitude, free(magnitude, "phase")),
            (None, Some(phase)) => (free(phase, "magnitude"), phase),
            (None, None) => {
                let first = free(frequency, "response");
                (first, free(first, "second part of the response"))
            }
        };
        if let Some(what) = missing {
            found.lacking.get_or_insert_with(|| lacks(what));
        }
        pair
    }

    /// A column that is named as a coherence or as a weight, if its values can be that.
    fn weight(&self, table: &Table, found: &mut Guess) {
        let weight = |role, kind| {
            let column = self.named(role)?;
            Some(WeightColumn { column, kind })
        };
        let Some(weight) = weight(Role::Weight, WeightKind::Weight)
            .or_else(|| weight(Role::Coherence, WeightKind::Coherence))
        else {
            return;
        };
        if found.columns.takes(weight.column) {
            return;
        }
        if weight.kind == WeightKind::Coherence && !table.is_fraction(weight.column) {
            found.notes.push(format!(
                "Column {} is named as a coherence, but its values are not between 0 and 1; it is not used.",
                weight.column + 1
            ));
            return;
        }
        found.columns.weight = Some(weight);
    }
}

#[cfg(test)]
mod tests {
    use crate::plant::sweep::read;

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
    fn a_column_that_is_not_there_is_named() {
        for (text, missing) in [
            ("f (Hz),Mag (dB),Coherence\n1,-2,1\n2,-3,0.9\n", "phase"),
            (
                "f (Hz),Phase (deg),Coherence\n1,-2,1\n2,-3,0.9\n",
                "magnitude",
            ),
            ("f (Hz),Re,Coherence\n1,-2,1\n2,-3,0.9\n", "imaginary part"),
            ("No,f (Hz),Mag (dB)\n1,10,-2\n2,20,-3\n3,40,-9\n", "phase"),
            (
                "Coherence,Mag (dB),Phase (deg)\n1,-2,1\n2,-3,0.9\n",
                "frequency",
            ),
        ] {
            let error = read(text, None).error.expect("an error");
            assert!(
                error.starts_with(&format!("By the columns' names the {missing} is missing.")),
                "{text} {error}"
            );
        }
    }

    #[test]
    fn names_go_before_values() {
        let text = "phase (deg),level (dB),f (kHz)\n1,2,3\n2,3,4\n";
        assert_eq!(
            of(text),
            "Column 3: frequency in kHz; column 2: magnitude in dB; column 1: phase in degrees"
        );
        let text = "coherence,w (rad/s),x,y\n0.9,2,-0.3,0.1\n1,3,-0.4,0.2\n";
        assert_eq!(
            of(text),
            "Column 2: frequency in rad/s; column 3: real part; column 4: imaginary part; column 1: coherence"
        );
        let text = "f (Hz)\tresponse\n1\t1+2j\n2\t(0.5-1e-3j)\n";
        assert_eq!(
            of(text),
            "Column 1: frequency in Hz; column 2: response as complex numbers"
        );
    }
}
