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
    fn numbers_have_as_many_digits_as_a_sentence_wants() {
        assert_eq!(hertz(2353.6), "2.35 kHz");
        assert_eq!(hertz_closely(2353.6), "2.354 kHz");
        assert_eq!(decibel(-6.0206), "−6.02 dB");
        assert_eq!(degrees(45.678), "45.7°");
        assert_eq!(number(0.61803), "0.618");
    }
}
