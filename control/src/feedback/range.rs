//! Numbers of a wish, each within its range.

use crate::plant::sweep::FREQUENCIES;

/// A number that is out of range; a sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{name} must be {range}; it is {value}.")]
pub struct OutOfRange {
    /// As a sentence begins with it.
    pub name: &'static str,
    /// What is accepted, in words.
    pub range: &'static str,
    pub value: f64,
}

/// How far a frequency may drift or spread from unit to unit, as a share.
pub const FREQUENCY_SHARES: (f64, f64) = (0.0, 0.5);
/// How far a damping, a Q or a gain may.
pub const SHARES: (f64, f64) = (0.0, 0.95);

/// Whether a number lies between two others or is one of them; `words` say which.
///
/// # Errors
/// It does not, or it is no number.
pub(crate) fn within(
    name: &'static str,
    (low, high): (f64, f64),
    words: &'static str,
    value: f64,
) -> Result<(), OutOfRange> {
    is_within(name, (low..=high).contains(&value), words, value)
}

/// Whether a number is what these words say.
///
/// # Errors
/// It is not.
pub(crate) fn is_within(
    name: &'static str,
    is_within: bool,
    range: &'static str,
    value: f64,
) -> Result<(), OutOfRange> {
    match is_within {
        true => Ok(()),
        false => Err(OutOfRange { name, range, value }),
    }
}

/// A crossover or another corner of a loop, Hz.
///
/// # Errors
/// As [`within`].
pub(crate) fn frequency(name: &'static str, value: f64) -> Result<(), OutOfRange> {
    within(name, FREQUENCIES, "from 1 µHz to 1 THz", value)
}

/// How far a frequency drifts or spreads from unit to unit, as a share.
///
/// # Errors
/// As [`within`].
pub(crate) fn frequency_share(name: &'static str, value: f64) -> Result<(), OutOfRange> {
    within(name, FREQUENCY_SHARES, "from 0 to 50 %", value)
}

/// How far a damping, a Q or a gain does.
///
/// # Errors
/// As [`within`].
pub(crate) fn share(name: &'static str, value: f64) -> Result<(), OutOfRange> {
    within(name, SHARES, "from 0 to 95 %", value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_are_in_range_and_no_number_is_not() {
        assert!(share("Drift", 0.0).is_ok() && share("Drift", 0.95).is_ok());
        for value in [f64::NAN, -1e-9, 0.951, f64::INFINITY] {
            assert!(share("Drift", value).is_err(), "{value}");
        }
        let sentence = frequency("Crossover", 0.0)
            .expect_err("too low")
            .to_string();
        assert_eq!(sentence, "Crossover must be from 1 µHz to 1 THz; it is 0.");
    }
}
