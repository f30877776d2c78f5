//! The letter that stands for a tolerance on a part.

use crate::quantity::Unit;

/// Symmetrical tolerances as fractions (IEC 60062:2016, clause 5; from memory).
const LETTERS: [(f64, char); 14] = [
    (0.000_05, 'E'),
    (0.000_1, 'L'),
    (0.000_2, 'P'),
    (0.000_5, 'W'),
    (0.001, 'B'),
    (0.002_5, 'C'),
    (0.005, 'D'),
    (0.01, 'F'),
    (0.02, 'G'),
    (0.03, 'H'),
    (0.05, 'J'),
    (0.1, 'K'),
    (0.2, 'M'),
    (0.3, 'N'),
];
/// Below this many farads the letters stand for picofarads.
const SMALL: f64 = 10e-12;

/// The letter of a tolerance (a fraction) of a part of this value; none where the standard has none for it.
pub(super) fn letter(tolerance: f64, unit: Unit, value: f64) -> Option<char> {
    if unit == Unit::Farad && value < SMALL {
        return None;
    }
    let is_near = |known: &&(f64, char)| (tolerance / known.0 - 1.0).abs() < 1e-9;
    LETTERS.iter().find(is_near).map(|(_, letter)| *letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_those_of_the_standard() {
        assert_eq!(letter(0.01, Unit::Ohm, 1e3), Some('F'));
        assert_eq!(letter(5.0 / 100.0, Unit::Farad, 1e-8), Some('J'));
        assert_eq!(letter(0.015, Unit::Ohm, 1e3), None);
        // There J would be told as a part of the value, and F means 1 pF.
        assert_eq!(letter(0.05, Unit::Farad, 4.7e-12), None);
    }
}
