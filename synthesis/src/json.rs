//! JSON as text: written from a tree, and its numbers as a way to read any. The page holds no other code for either:
//! each way of reading or writing a number exactly brings ten kilobytes of tables with it.

use serde_json::Value;

mod read;

pub use read::read;

/// The text of a tree, without spaces.
pub fn written(tree: &Value) -> String {
    let mut text = String::new();
    write(&mut text, tree);
    text
}

fn write(text: &mut String, tree: &Value) {
    match tree {
        Value::Null => text.push_str("null"),
        Value::Bool(true) => text.push_str("true"),
        Value::Bool(false) => text.push_str("false"),
        Value::Number(number) => {
            let whole = number.as_i64().map(|n| n.to_string());
            let whole = whole.or_else(|| number.as_u64().map(|n| n.to_string()));
            let real = || format!("{:?}", number.as_f64().unwrap_or(0.0));
            text.push_str(&whole.unwrap_or_else(real));
        }
        Value::String(words) => quote(text, words),
        Value::Array(list) => {
            text.push('[');
            for (place, item) in list.iter().enumerate() {
                if place > 0 {
                    text.push(',');
                }
                write(text, item);
            }
            text.push(']');
        }
        Value::Object(map) => {
            text.push('{');
            for (place, (key, item)) in map.iter().enumerate() {
                if place > 0 {
                    text.push(',');
                }
                quote(text, key);
                text.push(':');
                write(text, item);
            }
            text.push('}');
        }
    }
}

/// The text of a tree in lines for people: an entry a line, lists of numbers in one.
pub fn in_lines(tree: &Value) -> String {
    let mut text = String::new();
    write_lines(&mut text, tree, 0);
    text.push('\n');
    text
}

fn write_lines(text: &mut String, tree: &Value, depth: usize) {
    let new_line = |text: &mut String, depth: usize| {
        text.push('\n');
        text.extend(std::iter::repeat_n("  ", depth));
    };
    let is_inner = |item: &Value| item.is_array() || item.is_object();
    match tree {
        Value::Array(list) if list.iter().any(is_inner) => {
            text.push('[');
            for (place, item) in list.iter().enumerate() {
                text.push_str(if place > 0 { "," } else { "" });
                new_line(text, depth + 1);
                write_lines(text, item, depth + 1);
            }
            new_line(text, depth);
            text.push(']');
        }
        Value::Object(map) if !map.is_empty() => {
            text.push('{');
            for (place, (key, item)) in map.iter().enumerate() {
                text.push_str(if place > 0 { "," } else { "" });
                new_line(text, depth + 1);
                quote(text, key);
                text.push_str(": ");
                write_lines(text, item, depth + 1);
            }
            new_line(text, depth);
            text.push('}');
        }
        _ => write(text, tree),
    }
}

fn quote(text: &mut String, words: &str) {
    text.push('"');
    for letter in words.chars() {
        match letter {
            '"' | '\\' => {
                text.push('\\');
                text.push(letter);
            }
            '\n' => text.push_str("\\n"),
            '\u{0}'..='\u{1f}' => text.push_str(&format!("\\u{:04x}", letter as u32)),
            _ => text.push(letter),
        }
    }
    text.push('"');
}

/// Whether a text is a number: an optional sign, digits with or without a point among them, an optional power of ten
/// (`-4.7e3`, `.5`, `12.`).
pub fn is_number(text: &str) -> bool {
    let (_, whole, fraction, power) = parts(text);
    let all_digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let power = power.strip_prefix(['e', 'E']).map(|power| {
        let digits = power.strip_prefix(['-', '+']).unwrap_or(power);
        !digits.is_empty() && all_digits(digits)
    });
    !(whole.is_empty() && fraction.is_empty())
        && all_digits(whole)
        && all_digits(fraction)
        && power.unwrap_or(true)
}

/// The `f64` next to a number, as [`is_number`] has it. None where it is none, or too large.
pub fn number(text: &str) -> Option<f64> {
    if !is_number(text) {
        return None;
    }
    let (sign, whole, fraction, power) = parts(text);
    // As JSON has it: no zeros in front, and digits on both sides of a point.
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    let fraction = if fraction.is_empty() { "0" } else { fraction };
    let tree: Value = serde_json::from_str(&format!("{sign}{whole}.{fraction}{power}")).ok()?;
    tree.as_f64()
}

/// Sign, digits before and behind the point, and the power of ten with its letter.
fn parts(text: &str) -> (&'static str, &str, &str, &str) {
    let (sign, size) = match text.strip_prefix('-') {
        Some(size) => ("-", size),
        None => ("", text.strip_prefix('+').unwrap_or(text)),
    };
    let end = size.find(['e', 'E']).unwrap_or(size.len());
    let (digits, power) = size.split_at(end);
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    (sign, whole, fraction, power)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::*;

    #[test]
    fn a_tree_is_written_as_serde_writes_it() {
        let tree = json!({
            "words": "a \"b\" \\ c\nd\u{1}é",
            "numbers": [0, -3, 18446744073709551615u64, 2350.0, -0.0, 0.1],
            "flags": [true, false, null],
            "empty": [{}, []],
        });
        assert_eq!(written(&tree), tree.to_string());
    }

    #[test]
    fn lines_hold_the_same() {
        let tree = json!({ "a": [1, 2, [3.5], {}], "b": { "c": [], "d": [0.1, 2] }, "e": null });
        let text = in_lines(&tree);
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), tree);
        assert!(text.contains("\n    \"d\": [0.1,2]\n"), "{text}");
    }

    proptest! {
        #[test]
        fn every_number_comes_back(value in any::<f64>().prop_filter("JSON has no other", |v| v.is_finite())) {
            let back: Value = serde_json::from_str(&written(&json!(value))).unwrap();
            prop_assert_eq!(back.as_f64().map(f64::to_bits), Some(value.to_bits()));
        }

        #[test]
        fn a_number_is_read_as_the_library_reads_it(text in "[-+]?[0-9]{0,25}[.]?[0-9]{0,25}(e[-+]?[0-9]{1,3})?") {
            let known = text.parse().ok().filter(|value: &f64| value.is_finite());
            prop_assert_eq!(number(&text).map(f64::to_bits), known.map(f64::to_bits));
        }

        #[test]
        fn what_is_no_number_is_refused(text in "[-+.0-9a-e ]{0,8}") {
            let known = text.parse().ok().filter(|value: &f64| value.is_finite());
            prop_assert_eq!(number(&text), known);
        }
    }
}
