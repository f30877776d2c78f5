//! Names of columns: where they stand and what they mean.

use super::bounds::is_short;
use super::cells::{cells, comment};
use super::{FrequencyUnit, MagnitudeUnit, PhaseUnit, Separator};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Frequency,
    Magnitude,
    Phase,
    Real,
    Imaginary,
    /// γ² between input and output.
    Coherence,
    Weight,
    /// Known to be none of these: a time, a number of the row.
    Other,
}

/// What a name tells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Meaning {
    pub role: Option<Role>,
    pub frequency: Option<FrequencyUnit>,
    pub magnitude: Option<MagnitudeUnit>,
    pub phase: Option<PhaseUnit>,
}

// γ alone is not said to be squared, so that it is not used.
const OTHER: [&str; 11] = [
    "gamma", "γ", "index", "idx", "no", "nr", "time", "snr", "std", "sigma", "noise",
];
const COHERENCE: [&str; 8] = [
    "coh",
    "coherence",
    "kohärenz",
    "gamma2",
    "gamma²",
    "γ²",
    "γ2",
    "msc",
];
const REAL: [&str; 4] = ["re", "real", "realteil", "realpart"];
const IMAGINARY: [&str; 6] = [
    "im",
    "imag",
    "imaginary",
    "imaginär",
    "imaginärteil",
    "imagpart",
];

/// A column's name, cut into words.
struct Words<'a> {
    /// In small letters.
    name: &'a str,
    words: Vec<&'a str>,
    /// As in rad/s.
    is_angular: bool,
}

impl Words<'_> {
    fn new(name: &str) -> Words<'_> {
        Words {
            name,
            words: name
                .split(|c: char| !c.is_alphanumeric())
                .filter(|word| !word.is_empty())
                .collect(),
            is_angular: ["rad/s", "rads/s", "1/s"]
                .iter()
                .any(|unit| name.contains(unit)),
        }
    }

    fn is(&self, list: &[&str]) -> bool {
        self.words.iter().any(|word| list.contains(word))
    }

    fn starts(&self, list: &[&str]) -> bool {
        let starts = |word: &&str| list.iter().any(|start| word.starts_with(start));
        self.words.iter().any(starts)
    }

    fn ends(&self, end: &str) -> bool {
        self.words.iter().any(|word| word.ends_with(end))
    }

    /// `has_milli`: the prefix was written as a small letter.
    fn frequency(&self, has_milli: bool) -> Option<FrequencyUnit> {
        if self.is_angular {
            Some(FrequencyUnit::RadiansPerSecond)
        } else if self.ends("khz") {
            Some(FrequencyUnit::Kilohertz)
        } else if self.ends("mhz") && has_milli {
            Some(FrequencyUnit::Millihertz)
        } else if self.ends("mhz") {
            Some(FrequencyUnit::Megahertz)
        } else if self.ends("ghz") {
            Some(FrequencyUnit::Gigahertz)
        } else {
            self.ends("hz").then_some(FrequencyUnit::Hertz)
        }
    }

    fn magnitude(&self) -> Option<MagnitudeUnit> {
        let bracket = self.name.find(['(', '[']);
        let unit = bracket.map(|at| self.name[at + 1..].trim_end_matches([')', ']', ' ']));
        if self.ends("db") {
            Some(MagnitudeUnit::Decibels)
        } else {
            let is_ratio = self.is(&["abs", "lin", "linear", "ratio"])
                || unit.is_some_and(|unit| unit.contains('/'));
            is_ratio.then_some(MagnitudeUnit::Ratio)
        }
    }

    fn phase(&self) -> Option<PhaseUnit> {
        if self.name.contains('°')
            || self.starts(&["deg"])
            || self.ends("deg")
            || self.is(&["grad"])
        {
            Some(PhaseUnit::Degrees)
        } else {
            let is_radians = self.ends("rad") || self.starts(&["radian"]);
            (!self.is_angular && is_radians).then_some(PhaseUnit::Radians)
        }
    }

    /// What the words themselves say, whatever the unit.
    fn role(&self) -> Option<Role> {
        let is_squared = |pair: &[&str]| ["gamma", "γ"].contains(&pair[0]) && pair[1] == "2";
        if self.is(&COHERENCE) || self.words.windows(2).any(is_squared) {
            Some(Role::Coherence)
        } else if self.is(&["weight", "weights"]) {
            Some(Role::Weight)
        } else if self.is(&OTHER) {
            Some(Role::Other)
        } else if self.is(&REAL) {
            Some(Role::Real)
        } else if self.is(&IMAGINARY) {
            Some(Role::Imaginary)
        } else if self.starts(&["phas"]) || self.is(&["arg", "angle", "phi", "φ", "ph"]) {
            Some(Role::Phase)
        } else if self.starts(&["mag", "ampl", "modul"])
            || self.is(&["gain", "amp", "abs", "betrag", "level", "ratio"])
            || self.name.contains('|')
        {
            Some(Role::Magnitude)
        } else if self.starts(&["freq", "omega"]) || self.is(&["ω", "frequenz"]) {
            Some(Role::Frequency)
        } else {
            None
        }
    }
}

impl Meaning {
    /// Of a name such as "Frequency (Hz)", "Mag[dB]", "Phase_deg", "w rad/s".
    pub fn of(name: &str) -> Meaning {
        let has_milli = name.contains("mHz");
        let name = name.to_lowercase();
        let words = Words::new(&name);
        let frequency = words.frequency(has_milli);
        let magnitude = words.magnitude();
        let phase = words.phase();
        let by_unit = || {
            if magnitude == Some(MagnitudeUnit::Decibels) {
                Some(Role::Magnitude)
            } else if phase.is_some() {
                Some(Role::Phase)
            } else {
                let first = words.words.first();
                let is_frequency =
                    frequency.is_some() || first.is_some_and(|w| ["f", "w"].contains(w));
                is_frequency.then_some(Role::Frequency)
            }
        };
        Meaning {
            role: words.role().or_else(by_unit),
            frequency,
            magnitude,
            phase,
        }
    }
}

/// Whether a name says what a column is.
pub(super) fn tells(name: &str) -> bool {
    !matches!(Meaning::of(name).role, None | Some(Role::Other))
}

/// The names of a table's columns, from the lines before its first row; empty where there are none.
///
/// Of several lines with as many cells as the table has columns the one counts that says most, and of
/// equals the last. A line of units under it is added to it.
pub(super) fn names(header: &[&str], separator: Separator, width: usize) -> Vec<String> {
    Header::new(header, separator).names(width)
}

/// Lines that may name columns, cut in every way there is: tables of several widths are tried with them.
pub(super) struct Header {
    /// From the last line up.
    lines: Vec<NameLine>,
}

struct NameLine {
    is_comment: bool,
    /// Cells without blanks, and how many there are up to the last that is not empty.
    ways: Vec<(Vec<String>, usize)>,
}

impl Header {
    /// A table's own names stand close to it; a long preamble is not searched.
    pub fn new(header: &[&str], separator: Separator) -> Header {
        let near = header.iter().rev().take(40).filter(|line| is_short(line));
        Header {
            lines: near.map(|line| NameLine::new(line, separator)).collect(),
        }
    }

    /// The names of a table with so many columns, as [`names`] has them.
    pub fn names(&self, width: usize) -> Vec<String> {
        let mut found: Vec<String> = Vec::new();
        let mut most = 0;
        for line in &self.lines {
            let Some(cells) = line.named(width) else {
                continue;
            };
            let tells = |cell: &&String| tells(cell);
            let known = cells.iter().filter(tells).count();
            if !found.is_empty() && found.iter().all(|cell| is_unit(cell)) {
                let with_unit = |(name, unit): (&String, &String)| match unit
                    .trim_matches(['(', ')', '[', ']'])
                {
                    "" | "-" => name.clone(),
                    unit => format!("{name} [{unit}]"),
                };
                found = cells.iter().zip(&found).map(with_unit).collect();
                most = most.max(known);
            } else if known > most || found.is_empty() && (known > 0 || !line.is_comment) {
                (found, most) = (cells, known);
            }
        }
        found
    }
}

impl NameLine {
    fn new(line: &str, separator: Separator) -> NameLine {
        let comment = comment(line);
        let bare = if line.trim_start().starts_with('"') {
            line
        } else {
            comment.unwrap_or(line)
        };
        let owned = |cells: Vec<&str>| cells.into_iter().map(str::to_owned).collect::<Vec<_>>();
        let ways = [
            owned(cells(bare, separator).collect()),
            joined(bare),
            owned(
                bare.split("  ")
                    .map(str::trim)
                    .filter(|cell| !cell.is_empty())
                    .collect(),
            ),
            owned(cells(bare, Separator::Tab).collect()),
            owned(cells(bare, Separator::Comma).collect()),
            owned(cells(bare, Separator::Semicolon).collect()),
            owned(cells(bare, Separator::Bar).collect()),
            // Bars stand round a magnitude too: "f | |H| | arg".
            owned(between_bars(bare)),
        ];
        let with_used = |cells: Vec<String>| {
            let last = cells.iter().rposition(|cell| !cell.is_empty());
            (cells, last.map_or(0, |last| last + 1))
        };
        NameLine {
            is_comment: comment.is_some(),
            ways: ways.into_iter().map(with_used).collect(),
        }
    }

    /// The line's cells, as many as the table has columns, in the first way that gives so many.
    fn named(&self, width: usize) -> Option<Vec<String>> {
        let fits = |(cells, used): &&(Vec<String>, usize)| {
            *used > 0 && *used <= width && cells.len() >= width
        };
        let (cells, _) = self.ways.iter().find(fits)?;
        let cut = |cell: &String| cell.trim_end_matches(',').chars().take(60).collect();
        Some(cells[..width].iter().map(cut).collect())
    }
}

/// Cells between bars that have a blank on both sides; one at either end belongs to none.
fn between_bars(line: &str) -> Vec<&str> {
    let line = line.trim();
    let line = line.strip_prefix("| ").unwrap_or(line);
    let line = line.strip_suffix(" |").unwrap_or(line);
    line.split(" | ").map(str::trim).collect()
}

/// Cells between blanks, a unit joined to what stands before it: "Frequency (Hz) w rad/s" is two.
fn joined(line: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut open = false;
    for word in line.split_whitespace() {
        match found.last_mut() {
            Some(last) if open || word.starts_with(['(', '[']) || is_unit(word) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => found.push(word.to_owned()),
        }
        open = match word.rfind(['(', '[']) {
            Some(at) => !word[at..].contains([')', ']']),
            None => open && !word.contains([')', ']']),
        };
    }
    found
}

/// Whether a cell holds a unit and nothing else.
fn is_unit(cell: &str) -> bool {
    let cell = cell
        .trim_matches(['(', ')', '[', ']', ',', ' '])
        .to_lowercase();
    [
        "", "-", "hz", "khz", "mhz", "ghz", "rad/s", "rad/sec", "1/s", "db", "deg", "degree",
        "degrees", "°", "rad", "radians", "abs", "lin", "v/v",
    ]
    .contains(&cell.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_role_and_unit() {
        use Role::*;
        for (name, role) in [
            ("Frequency (Hz)", Frequency),
            ("f", Frequency),
            ("w rad/s", Frequency),
            ("FreqHz", Frequency),
            ("Mag[dB]", Magnitude),
            ("|H(f)|", Magnitude),
            ("H(f) dB", Magnitude),
            ("Gain", Magnitude),
            ("Phase_deg", Phase),
            ("arg H(f)", Phase),
            ("φ [rad]", Phase),
            ("PhaseDeg", Phase),
            ("Re", Real),
            ("Re{H(f)}", Real),
            ("Im", Imaginary),
            ("Coherence", Coherence),
            ("γ²", Coherence),
            ("gamma^2", Coherence),
            ("Coh(1,2)", Coherence),
            ("gamma", Other),
            ("Weight", Weight),
        ] {
            assert_eq!(Meaning::of(name).role, Some(role), "{name}");
        }
        assert_eq!(Meaning::of("Time constant").role, Some(Other));
        assert_eq!(Meaning::of("Channel").role, None);
        assert_eq!(
            Meaning::of("w rad/s").frequency,
            Some(FrequencyUnit::RadiansPerSecond)
        );
        assert_eq!(
            Meaning::of("f_kHz").frequency,
            Some(FrequencyUnit::Kilohertz)
        );
        assert_eq!(
            ["f (MHz)", "f (mHz)", "F/GHZ"].map(|name| Meaning::of(name).frequency),
            [
                Some(FrequencyUnit::Megahertz),
                Some(FrequencyUnit::Millihertz),
                Some(FrequencyUnit::Gigahertz)
            ]
        );
        assert_eq!(
            Meaning::of("Mag (V/V)").magnitude,
            Some(MagnitudeUnit::Ratio)
        );
        assert_eq!(Meaning::of("phase (rad)").phase, Some(PhaseUnit::Radians));
    }

    #[test]
    fn names_are_found_in_a_header() {
        let of = |header: &[&str], separator| names(header, separator, 3);
        let blanks = Separator::Blanks;
        assert_eq!(
            of(&["# made today", "# f (Hz) Mag (dB) Phase (deg)"], blanks)[1],
            "Mag (dB)"
        );
        assert_eq!(of(&["f, mag, phase", ""], blanks), ["f", "mag", "phase"]);
        assert_eq!(
            of(&["f;mag;phase", "Hz;dB;deg"], Separator::Semicolon)[2],
            "phase [deg]"
        );
        assert_eq!(
            of(&["f;mag;phase", "# two of three"], Separator::Semicolon)[0],
            "f"
        );
        for line in ["f/Hz | |H|/dB | arg/rad", "| f/Hz | |H|/dB | arg/rad |"] {
            let found = of(&[line], Separator::Bar);
            assert_eq!(found, ["f/Hz", "|H|/dB", "arg/rad"], "{line}");
        }
        assert_eq!(of(&["# of no use"], blanks), [""; 0]);
    }
}
