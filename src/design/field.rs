//! One thing that a user can set: how it is called, read and written.

use std::borrow::Cow;

use serde::Serialize;
use serde_json::Value;

use crate::quantity::{self, Unit};
pub use crate::stages::Step;

/// A place in a design that a user can set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Field {
    /// JSON pointer into the design.
    pub path: String,
    pub label: String,
    pub kind: Kind,
    /// One sentence shown with the field.
    pub help: &'static str,
}

/// What a field holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Kind {
    /// A number with a unit.
    Quantity {
        unit: Unit,
        lowest: f64,
        highest: f64,
        step: Step,
        /// The words that stand for no number at all, where that is allowed.
        empty: Option<&'static str>,
        /// Only whole numbers.
        whole: bool,
    },
    /// One of several (value, name).
    Choice {
        options: Vec<(Cow<'static, str>, Cow<'static, str>)>,
    },
    /// Words.
    Text {
        /// Most characters.
        longest: usize,
        /// Whether they may have several lines.
        lines: bool,
    },
    /// Numbers with a unit, separated by spaces, commas or lines; nothing stands for no list.
    List {
        unit: Unit,
        lowest: f64,
        highest: f64,
    },
}

impl Kind {
    /// One of several (value, name).
    pub fn choice(options: Vec<(&'static str, &'static str)>) -> Kind {
        let options = options.into_iter();
        Kind::Choice {
            options: options
                .map(|(value, name)| (value.into(), name.into()))
                .collect(),
        }
    }
}

/// What stands in a design for a choice: its word, but yes and no as such, and no word for nothing.
fn chosen(word: &str) -> Value {
    match word {
        "" => Value::Null,
        "true" => Value::Bool(true),
        "false" => Value::Bool(false),
        _ => Value::from(word),
    }
}

/// A JSON number; whole where the value is, so that it fits counts as well.
fn number(value: f64) -> Value {
    const LARGEST_EXACT: f64 = 9_007_199_254_740_992.0;
    if value.fract() == 0.0 && (0.0..=LARGEST_EXACT).contains(&value) {
        Value::from(value as u64)
    } else {
        Value::from(value)
    }
}

impl Field {
    /// Reads what a user typed as this field's value.
    ///
    /// # Errors
    /// A sentence that names the field and says what is accepted.
    pub fn read(&self, text: &str) -> Result<Value, String> {
        match &self.kind {
            Kind::Quantity { unit, empty, .. } => {
                let text = text.trim();
                if empty.is_some_and(|words| text.is_empty() || text.eq_ignore_ascii_case(words)) {
                    return Ok(Value::Null);
                }
                let value = quantity::parse(text, *unit)
                    .map_err(|error| self.sentence(&error.to_string()))?;
                self.hold(value)?;
                Ok(number(value))
            }
            Kind::Choice { options } => options
                .iter()
                .find(|(value, _)| *value == text)
                .map(|(value, _)| chosen(value))
                .ok_or_else(|| self.sentence("has no such choice")),
            Kind::Text { .. } => {
                let text = Value::from(text.trim());
                self.holds(&text)?;
                Ok(text)
            }
            Kind::List { unit, .. } => {
                let words = list_words(text);
                if words.is_empty() {
                    return Ok(Value::Null);
                }
                let mut values = Vec::new();
                for word in &words {
                    let value = quantity::parse(word, *unit).map_err(|error| {
                        self.sentence(&format!("has an entry that {}", describe(word, &error)))
                    })?;
                    self.hold(value)?;
                    values.push(value);
                }
                Ok(Value::from(values))
            }
        }
    }

    /// Writes this field's value as a user would type it; reads back to the same value.
    pub fn show(&self, value: &Value) -> String {
        match (&self.kind, value) {
            (Kind::Quantity { unit, .. }, Value::Number(number)) => {
                quantity::exact(number.as_f64().unwrap_or(f64::NAN), *unit)
            }
            (Kind::Quantity { empty, .. }, _) => empty.unwrap_or("").to_owned(),
            (Kind::Choice { .. }, Value::Bool(yes)) => yes.to_string(),
            (Kind::Choice { .. }, value) => value.as_str().unwrap_or("").to_owned(),
            (Kind::Text { .. }, value) => value.as_str().unwrap_or("").to_owned(),
            (Kind::List { unit, .. }, Value::Array(values)) => values
                .iter()
                .filter_map(Value::as_f64)
                .map(|v| quantity::exact(v, *unit).replace(' ', ""))
                .collect::<Vec<_>>()
                .join(" "),
            (Kind::List { .. }, _) => String::new(),
        }
    }

    /// This field's value in words: a choice as it is called, all else as it is typed.
    pub fn words(&self, value: &Value) -> String {
        let Kind::Choice { options } = &self.kind else {
            return self.show(value);
        };
        let mut options = options.iter();
        let chosen = options.find(|(option, _)| *value == chosen(option));
        chosen.map_or_else(|| self.show(value), |(_, name)| name.clone().into_owned())
    }

    /// The value `steps` arrow presses away, kept inside the field's range.
    pub fn stepped(&self, value: &Value, steps: i32) -> Option<Value> {
        let Kind::Quantity {
            lowest,
            highest,
            step,
            ..
        } = &self.kind
        else {
            return None;
        };
        let value = value.as_f64()?;
        let next = match step {
            Step::Along { series } if value > 0.0 => series.step(value, steps),
            Step::Along { .. } => *lowest,
            // Rounded so that a hundred presses of 0.1 land on ten.
            Step::By { amount } => {
                let next = ((value / amount).round() + f64::from(steps)) * amount;
                (next * 1e9).round() / 1e9
            }
        };
        Some(number(next.clamp(*lowest, *highest)))
    }

    /// Checks a value that is already in a design.
    pub fn holds(&self, value: &Value) -> Result<(), String> {
        match (&self.kind, value) {
            (Kind::Quantity { empty: Some(_), .. } | Kind::List { .. }, Value::Null) => Ok(()),
            (Kind::Quantity { .. }, value) => match value.as_f64() {
                Some(number) => self.hold(number),
                None => Err(self.sentence("is not a number")),
            },
            (Kind::List { .. }, Value::Array(values)) if values.is_empty() => {
                Err(self.sentence("is an empty list"))
            }
            (Kind::List { .. }, Value::Array(values)) => values
                .iter()
                .try_for_each(|v| self.hold(v.as_f64().unwrap_or(f64::NAN))),
            (Kind::List { .. }, _) => Err(self.sentence("is not a list")),
            // A design without words about it says nothing of them.
            (Kind::Text { .. }, Value::Null) => Ok(()),
            (Kind::Text { longest, lines }, value) => match value.as_str() {
                None => Err(self.sentence("is not a text")),
                Some(text) if text.chars().count() > *longest => {
                    Err(self.sentence(&format!("is too long; write {longest} characters at most")))
                }
                Some(text)
                    if text
                        .chars()
                        .any(|c| c.is_control() && !(*lines && c == '\n')) =>
                {
                    Err(self.sentence(
                        "has a character that cannot be printed; write letters, digits and signs",
                    ))
                }
                Some(_) => Ok(()),
            },
            (Kind::Choice { options }, value) => {
                let known = options.iter().any(|(option, _)| *value == chosen(option));
                if known {
                    Ok(())
                } else {
                    Err(self.sentence("has no such choice"))
                }
            }
        }
    }

    fn hold(&self, value: f64) -> Result<(), String> {
        let (Kind::Quantity {
            unit,
            lowest,
            highest,
            ..
        }
        | Kind::List {
            unit,
            lowest,
            highest,
        }) = &self.kind
        else {
            return Ok(());
        };
        if matches!(self.kind, Kind::Quantity { whole: true, .. }) && value.fract() != 0.0 {
            return Err(self.sentence("must be a whole number"));
        }
        if value >= *lowest && value <= *highest {
            return Ok(());
        }
        Err(self.sentence(&format!(
            "is {}; write a value from {} to {}",
            quantity::rounded(value, *unit, 6),
            quantity::exact(*lowest, *unit),
            quantity::exact(*highest, *unit),
        )))
    }

    fn sentence(&self, what: &str) -> String {
        format!("{} {what}.", self.label)
    }
}

fn describe(word: &str, error: &quantity::QuantityError) -> String {
    let text = error.to_string();
    if text.contains(word) {
        text
    } else {
        format!("(“{word}”) {text}")
    }
}

/// Entries of a pasted list: separated by white space, semicolons, or commas at a word's end (a comma
/// inside a word is a decimal sign). A word without a digit is the unit of the word before it.
fn list_words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split(|c: char| c.is_whitespace() || c == ';') {
        let word = word.trim_matches(',');
        match words.last_mut() {
            Some(before) if !word.bytes().any(|b| b.is_ascii_digit()) => before.push_str(word),
            _ if word.is_empty() => {}
            _ => words.push(word.to_owned()),
        }
    }
    words
}
