//! What the entries of a supply cannot see one by one.

use super::Supply;

/// Letters in a converter's name.
const MOST_LETTERS: usize = 40;

/// Values that must fit each other, and how many converters there are. Their ranges are their fields' affair.
///
/// # Errors
/// For each thing that is wrong its place in the supply, and a sentence.
pub fn check(supply: &Supply) -> Result<(), Vec<(String, String)>> {
    let mut wrong = Vec::new();
    let count = supply.converters.len();
    if !(1..=Supply::MOST).contains(&count) {
        wrong.push((
            "converters".to_owned(),
            format!(
                "The supply must have from 1 to {} converters; it has {count}.",
                Supply::MOST
            ),
        ));
    }
    if supply.range.0 >= supply.range.1 {
        wrong.push((
            "range/1".to_owned(),
            "The highest switching frequency to look at must lie above the lowest.".to_owned(),
        ));
    }
    for (index, converter) in supply.converters.iter().enumerate().take(Supply::MOST) {
        let at = |name: &str| format!("converters/{index}/{name}");
        if converter.name.chars().count() > MOST_LETTERS {
            wrong.push((
                at("name"),
                format!(
                    "The name of converter {} must have {MOST_LETTERS} letters at most.",
                    index + 1
                ),
            ));
        }
        if converter.burst.is_some_and(|burst| burst.from > burst.to) {
            wrong.push((
                at("burst/to"),
                format!(
                    "The fastest bursts of converter {} must not come slower than its slowest.",
                    index + 1
                ),
            ));
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

#[cfg(test)]
mod tests {
    use super::super::{Burst, Converter};
    use super::*;

    #[test]
    fn what_does_not_fit_is_named() {
        let converter = Converter {
            name: "x".repeat(41),
            burst: Some(Burst { from: 2.0, to: 1.0 }),
            ..Converter::default()
        };
        let supply = Supply {
            converters: vec![converter; 5],
            range: (2.0, 1.0),
            ..Supply::default()
        };
        let wrong = check(&supply).expect_err("something wrong");
        let places: Vec<&str> = wrong.iter().map(|(place, _)| place.as_str()).collect();
        assert_eq!(
            places[..4],
            [
                "converters",
                "range/1",
                "converters/0/name",
                "converters/0/burst/to"
            ]
        );
        assert!(wrong.iter().all(|(_, sentence)| sentence.ends_with('.')));
        assert_eq!(check(&Supply::default()), Ok(()));
    }
}
