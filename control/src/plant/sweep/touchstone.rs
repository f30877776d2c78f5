//! Touchstone files: network parameters over frequency behind an option line such as `# MHz S RI R 50`.
//!
//! The option line, its defaults and the order of a two-port's columns are those of the Touchstone File Format
//! Specification, revisions 1.1 and 2.0 (from memory).

use super::layout::Layout;
use super::{Columns, FrequencyUnit, MagnitudeUnit, PhaseUnit, Response};

/// How the pairs of columns are written.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Format {
    /// Magnitude and degrees; the default.
    Magnitude,
    /// dB and degrees.
    Decibels,
    /// Real and imaginary part.
    Parts,
}

/// What a file's option line and keywords say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Touchstone {
    unit: FrequencyUnit,
    /// Whether the line names the unit.
    is_unit_named: bool,
    /// S, Y, Z, G or H.
    parameter: char,
    format: Format,
    /// Whether a two-port's second pair is 12 and not 21, which revision 2.0 can say.
    is_turned: bool,
}

/// Rows of a one-port and of a two-port.
const WIDTHS: [usize; 2] = [3, 9];

impl Touchstone {
    /// What the lines before the first row say; none where no option line is among them.
    pub fn of(header: &[&str]) -> Option<Touchstone> {
        let mut found = header.iter().find_map(|line| option_line(line))?;
        let keyword = |line: &&str| {
            let line = line.trim().to_ascii_lowercase();
            line.strip_prefix("[two-port data order]")
                .is_some_and(|order| order.trim() == "12_21")
        };
        found.is_turned = header.iter().any(keyword);
        Some(found)
    }

    /// The names of so many columns.
    pub fn names(&self, width: usize) -> Vec<String> {
        let mut names = vec![format!("Frequency ({})", self.unit)];
        let [first, second] = match self.format {
            Format::Magnitude => ["magnitude", "degrees"],
            Format::Decibels => ["dB", "degrees"],
            Format::Parts => ["real part", "imaginary part"],
        };
        for pair in 0..width / 2 {
            let name = self.pair(pair, width);
            names.extend([first, second].map(|part| format!("{name} {part}")));
        }
        names.truncate(width);
        names
    }

    /// The columns of a one-port's only response or of a two-port's forward one, with notes.
    ///
    /// # Errors
    /// A sentence where the rows are neither's.
    pub fn columns(
        &self,
        layout: &Layout,
        rows: &[usize],
    ) -> Result<(Columns, Vec<String>), String> {
        let width = layout.width;
        // Three ports and more go on over lines that do not begin with a frequency: pairs only.
        if !WIDTHS.contains(&width) || rows.iter().any(|cells| cells % 2 == 0) {
            return Err(format!(
                "The option line makes this a Touchstone file, but its rows are not those of one or two ports, which \
                 have 3 or 9 numbers; most have {width}. Save the response alone: a one-port, or a table of frequency, \
                 magnitude and phase."
            ));
        }
        let forward = match (width, self.is_turned) {
            (3, _) => 0,
            (_, false) => 1,
            (_, true) => 2,
        };
        let (first, second) = (1 + 2 * forward, 2 + 2 * forward);
        let polar = |magnitude_unit| Response::Polar {
            magnitude: first,
            magnitude_unit,
            phase: second,
            phase_unit: PhaseUnit::Degrees,
        };
        let columns = Columns {
            separator: layout.separator,
            decimal_comma: layout.decimal_comma,
            header: layout.header,
            frequency: 0,
            frequency_unit: self.unit,
            response: match self.format {
                Format::Magnitude => polar(MagnitudeUnit::Ratio),
                Format::Decibels => polar(MagnitudeUnit::Decibels),
                Format::Parts => Response::Cartesian {
                    real: first,
                    imaginary: second,
                },
            },
            weight: None,
        };
        Ok((columns, self.notes(forward, width)))
    }

    /// What a pair of columns is: "S21".
    fn pair(&self, pair: usize, width: usize) -> String {
        let ports = match (width, pair, self.is_turned) {
            (3, ..) | (_, 0, _) => "11",
            (_, 1, false) | (_, 2, true) => "21",
            (_, 1, true) | (_, 2, false) => "12",
            _ => "22",
        };
        format!("{}{ports}", self.parameter)
    }

    fn notes(&self, forward: usize, width: usize) -> Vec<String> {
        let format = match self.format {
            Format::Magnitude => "magnitude and degrees",
            Format::Decibels => "dB and degrees",
            Format::Parts => "real and imaginary part",
        };
        let mut notes = vec![format!(
            "The Touchstone option line is followed: frequency in {}{}, {format}.",
            self.unit,
            if self.is_unit_named {
                ""
            } else {
                ", as it names no unit"
            },
        )];
        if width > 3 {
            notes.push(format!(
                "Of the two-port's responses {} is taken.",
                self.pair(forward, width)
            ));
        }
        if self.parameter != 'S' {
            notes.push(format!(
                "{} parameters may be normalised to the reference resistance; the gain is taken as it stands.",
                self.parameter
            ));
        }
        notes
    }
}

/// An option line's meaning. An ordinary remark is none: every word must be one of the line's, and the parameter or
/// the reference resistance must be among them.
fn option_line(line: &str) -> Option<Touchstone> {
    let line = line.trim().strip_prefix('#')?;
    let line = line.split('!').next()?;
    let mut found = Touchstone {
        unit: FrequencyUnit::Gigahertz,
        is_unit_named: false,
        parameter: 'S',
        format: Format::Magnitude,
        is_turned: false,
    };
    let mut is_sure = false;
    let mut words = line.split_whitespace();
    while let Some(word) = words.next() {
        let unit = match word.to_ascii_lowercase().as_str() {
            "hz" => FrequencyUnit::Hertz,
            "khz" => FrequencyUnit::Kilohertz,
            "mhz" => FrequencyUnit::Megahertz,
            "ghz" => FrequencyUnit::Gigahertz,
            "ma" => {
                found.format = Format::Magnitude;
                continue;
            }
            "db" => {
                found.format = Format::Decibels;
                continue;
            }
            "ri" => {
                found.format = Format::Parts;
                continue;
            }
            "r" => {
                words.next()?.parse::<f64>().ok()?;
                is_sure = true;
                continue;
            }
            letter @ ("s" | "y" | "z" | "g" | "h") => {
                found.parameter = letter.to_ascii_uppercase().chars().next()?;
                is_sure = true;
                continue;
            }
            _ => return None,
        };
        (found.unit, found.is_unit_named) = (unit, true);
    }
    is_sure.then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn option_lines_are_told_from_remarks() {
        let line = option_line("#  mhz S ri R 50 ! bridge").expect("an option line");
        assert_eq!(
            (line.unit, line.format, line.parameter),
            (FrequencyUnit::Megahertz, Format::Parts, 'S')
        );
        let line = option_line("# S").expect("an option line");
        assert_eq!(
            (line.unit, line.is_unit_named, line.format),
            (FrequencyUnit::Gigahertz, false, Format::Magnitude)
        );
        for remark in [
            "# Hz dB deg",
            "# Hz re im",
            "# f",
            "#",
            "# Hz dB",
            "S Hz",
            "# R x",
        ] {
            assert_eq!(option_line(remark), None, "{remark}");
        }
    }
}
