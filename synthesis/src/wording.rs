//! Numbers and words in sentences.

use crate::quantity::{Unit, rounded};

/// A plain number, in three digits.
pub fn number(value: f64) -> String {
    rounded(value, Unit::One, 3)
}

/// A frequency (Hz), in three digits.
pub fn hertz(value: f64) -> String {
    rounded(value, Unit::Hertz, 3)
}

/// A frequency (Hz) that is told from others close by, in four digits.
pub fn hertz_closely(value: f64) -> String {
    rounded(value, Unit::Hertz, 4)
}

/// A level (dB), in three digits.
pub fn decibel(value: f64) -> String {
    rounded(value, Unit::Decibel, 3)
}

/// An angle (degrees), in three digits.
pub fn degrees(value: f64) -> String {
    rounded(value, Unit::Degree, 3)
}

/// A value and the limit that it breaks, in as many digits as tell them apart, at least `digits`.
pub fn apart(value: f64, limit: f64, unit: Unit, digits: usize) -> (String, String) {
    let both = |digits| (rounded(value, unit, digits), rounded(limit, unit, digits));
    let mut told = (digits..12).map(both);
    told.find(|(value, limit)| value != limit)
        .unwrap_or_else(|| both(12))
}

/// A figure as people read it: fewer digits than scripts get.
pub fn figure_text(value: f64, unit: Unit) -> String {
    if !value.is_finite() {
        return "none".into();
    }
    match unit {
        Unit::Decibel => format!("{} dB", two_digits(value)),
        Unit::Degree => format!("{}°", two_digits(value)),
        _ => rounded(value, unit, 5),
    }
}

/// Two digits behind the point, and no sign before nothing.
fn two_digits(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" {
        return "0.00".into();
    }
    text.replace('-', "−")
}

/// A relative deviation with its sign, in per cent.
pub fn deviation(value: f64) -> String {
    if value.abs() < 5e-6 {
        return "0".into();
    }
    let text = rounded(value, Unit::Percent, 2);
    if value > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// A share of boards, from 0 to 1, in hundredths of a per cent.
fn hundredths(share: f64) -> f64 {
    (share * 1e4).round()
}

/// A share of boards, such as a yield, from 0 to 1: in per cent, to the hundredth.
pub fn per_cent(share: f64) -> String {
    let text = format!("{:.2}", hundredths(share) / 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}

/// From one share of boards to another, with its sign and in percentage points: the difference of both as
/// [`per_cent`] writes them. A difference of shares in per cent would be read as relative to the first one.
pub fn points(from: f64, to: f64) -> String {
    let by = hundredths(to) - hundredths(from);
    if by == 0.0 {
        return "0 pp".to_owned();
    }
    format!("{:+.2} pp", by / 100.0).replace('-', "−")
}

/// A share of boards that is estimated, not drawn: in per cent, to the tenth.
pub fn estimate(share: f64) -> String {
    format!("{:.1} %", tenths(share) / 10.0)
}

/// From one estimated share to another, in percentage points: the difference of both as [`estimate`] writes them.
pub fn estimated_points(from: f64, to: f64) -> String {
    format!("{:+.1} pp", (tenths(to) - tenths(from)) / 10.0).replace('-', "−")
}

/// In tenths of a per cent.
fn tenths(share: f64) -> f64 {
    (share * 1e3).round()
}

/// A part or node of a stage (counted from 0), with the stage's number where there are several of them.
pub fn in_stage(several: bool, stage: usize, name: &str) -> String {
    match several {
        true => format!("{}·{name}", stage + 1),
        false => name.to_owned(),
    }
}

/// "R1, R2 and C1", or with another word before the last.
pub fn listed<T: AsRef<str>>(names: &[T], last: &str) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match &names[..] {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., end] => format!("{} {last} {end}", all.join(", ")),
    }
}

/// With a capital letter, as a sentence or a row begins.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_begins_with_a_capital_letter() {
        let words = ["", "a PID", "éclat", "3 Hz", "ß"].map(capital);
        assert_eq!(words, ["", "A PID", "Éclat", "3 Hz", "SS"]);
    }

    #[test]
    fn names_are_listed() {
        let names = ["R1", "C2", "U1"];
        assert_eq!(listed(&names, "or"), "R1, C2 or U1");
        assert_eq!(listed(&names[..1], "and"), "R1");
        assert_eq!(listed(&names[..0], "and"), "");
    }

    #[test]
    fn differences_of_shares_are_points_between_what_is_shown() {
        assert_eq!([0.9122, 0.9126].map(per_cent), ["91.22 %", "91.26 %"]);
        assert_eq!(points(0.9122, 0.9926), "+8.04 pp");
        assert_eq!(points(0.9926, 0.9122), "−8.04 pp");
        assert_eq!(points(0.5, 0.504), "+0.40 pp");
        // Both round away from each other: the difference is 1.02 points, and what is shown differs by 1.03.
        assert_eq!([0.900_049, 0.910_251].map(per_cent), ["90 %", "91.03 %"]);
        assert_eq!(points(0.900_049, 0.910_251), "+1.03 pp");
        assert_eq!(points(0.912_21, 0.912_24), "0 pp");
        assert_eq!([0.0, 1.0, 0.000_04].map(per_cent), ["0 %", "100 %", "0 %"]);
    }

    #[test]
    fn estimates_have_a_tenth_of_a_per_cent() {
        assert_eq!(
            [0.9, 0.006_44, 1.0].map(estimate),
            ["90.0 %", "0.6 %", "100.0 %"]
        );
        assert_eq!(estimated_points(0.900_4, 0.910_6), "+1.1 pp");
        assert_eq!(estimated_points(0.910_6, 0.900_4), "−1.1 pp");
    }

    #[test]
    fn a_limit_is_told_from_what_breaks_it() {
        let told = |value, limit| apart(value, limit, Unit::Decibel, 3);
        assert_eq!(told(5.2, 6.0), ("5.2 dB".into(), "6 dB".into()));
        assert_eq!(told(5.9996, 6.0), ("5.9996 dB".into(), "6 dB".into()));
        assert_eq!(told(6.0, 6.0), ("6 dB".into(), "6 dB".into()));
    }

    #[test]
    fn numbers_have_as_many_digits_as_a_sentence_wants() {
        assert_eq!(hertz(2353.6), "2.35 kHz");
        assert_eq!(hertz_closely(2353.6), "2.354 kHz");
        assert_eq!(decibel(-6.0206), "−6.02 dB");
        assert_eq!(degrees(45.678), "45.7°");
        assert_eq!(number(0.61803), "0.618");
    }
}
