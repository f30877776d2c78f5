//! What the user has set, in words: every field of a design with its label and its value as text.

use maud::{Markup, html};
use serde_json::Value;

use crate::design::{Design, Field, Group, Kind, fields};
use crate::quantity::rounded;

/// Longest list of values that is written out.
const LONGEST_LIST: usize = 24;

/// One entry.
pub struct Entry {
    pub group: Group,
    /// JSON pointer into the design.
    pub path: String,
    pub label: String,
    pub text: String,
    /// Whether the design says something there, and does not leave it to a default.
    pub is_set: bool,
}

/// All of a design's.
pub struct Entries<'a> {
    pub design: &'a Design,
    all: Vec<Entry>,
}

impl<'a> Entries<'a> {
    pub fn of(design: &'a Design) -> Entries<'a> {
        // A design can always be written.
        let tree = serde_json::to_value(design).unwrap_or_default();
        let entry = |(group, field): (Group, Field)| {
            let value = tree.pointer(&field.path).cloned().unwrap_or_default();
            let (label, text) = told(&field, &value);
            Entry {
                group,
                path: field.path,
                label,
                text,
                is_set: !value.is_null(),
            }
        };
        let all = fields(design).into_iter().map(entry).collect();
        Entries { design, all }
    }

    /// Those of some groups.
    pub fn within(&self, is_wanted: impl Fn(&Group) -> bool) -> impl Iterator<Item = &Entry> {
        self.all.iter().filter(move |entry| is_wanted(&entry.group))
    }
}

/// Labels with their texts, in columns; nothing where none has a text.
pub fn listed<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Markup {
    let shown: Vec<&Entry> = entries.into_iter().filter(|e| !e.text.is_empty()).collect();
    html! {
        @if !shown.is_empty() {
            dl.sheet-facts {
                @for entry in shown { div { dt { (entry.label) } dd { (entry.text) } } }
            }
        }
    }
}

/// A label without the sign that belongs to the value, and the value as people read it.
fn told(field: &Field, value: &Value) -> (String, String) {
    let text = match (&field.kind, value) {
        (Kind::Choice { options }, value) => {
            let word = match value {
                Value::Bool(yes) => yes.to_string(),
                value => value.as_str().unwrap_or_default().to_owned(),
            };
            let option = options.iter().find(|(known, _)| *known == word);
            option.map_or(String::new(), |(_, name)| name.clone().into_owned())
        }
        (Kind::List { unit, .. }, Value::Array(values)) if values.len() > LONGEST_LIST => {
            let numbers = || values.iter().filter_map(Value::as_f64);
            let least = numbers().fold(f64::INFINITY, f64::min);
            let most = numbers().fold(f64::NEG_INFINITY, f64::max);
            let ends = [least, most].map(|end| rounded(end, *unit, 6));
            format!("{} values, {} to {}", values.len(), ends[0], ends[1])
        }
        _ => field.show(value),
    };
    match field.label.strip_suffix(" ±") {
        Some(label) if value.is_number() => (label.to_owned(), format!("±{text}")),
        Some(label) => (label.to_owned(), text),
        None => (field.label.clone(), text),
    }
}
