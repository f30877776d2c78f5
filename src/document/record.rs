//! Designs that are kept by the browser.

use serde_json::{Value, json};

use crate::design::Design;
use crate::json;
use crate::quantity::Unit;
use crate::stages::{Ask, Entry, catalogued};
use crate::wording::hertz;

/// A design that is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Stays the same while the design changes.
    pub id: String,
    /// When it was changed last, ms since 1970.
    pub changed: f64,
    /// What it is called in lists.
    pub label: String,
    /// The design as JSON.
    pub text: String,
}

impl Record {
    /// From its text; none where that is no record.
    pub fn read(text: &str) -> Option<Record> {
        let tree: Value = serde_json::from_str(text).ok()?;
        let words = |name: &str| tree.get(name)?.as_str().map(str::to_owned);
        Some(Record {
            id: words("id")?,
            changed: tree.get("changed")?.as_f64()?,
            label: words("label")?,
            text: words("design")?,
        })
    }

    /// Its text.
    pub fn written(&self) -> String {
        json::written(&json!({
            "id": self.id,
            "changed": self.changed,
            "label": self.label,
            "design": self.text,
        }))
    }
}

/// What a design is called where it has no name: its first circuit with its frequency, and how much more there is.
pub fn label(design: &Design) -> String {
    let name = design.about.name.trim();
    if !name.is_empty() {
        return name.to_owned();
    }
    let first = design.stages.first();
    let title = first.map_or("Plant", |stage| {
        catalogued(&stage.circuit).map_or(stage.circuit.as_str(), |circuit| circuit.title())
    });
    let at = first.and_then(|stage| asked_frequency(&stage.ask));
    let more = match design.stages.len() {
        0 | 1 => String::new(),
        2 => " and another stage".to_owned(),
        count => format!(" and {} more stages", count - 1),
    };
    let plant = match design.servo.has_plant() && first.is_some() {
        true => ", with a plant",
        false => "",
    };
    let at = at.map_or_else(String::new, |frequency| format!(" {}", hertz(frequency)));
    format!("{title}{at}{more}{plant}")
}

/// The frequency that is asked for, where one is.
fn asked_frequency(ask: &Ask) -> Option<f64> {
    let asked = ask.asked();
    let entries = asked.entries();
    // A gain is only read at a frequency.
    let is_asked = |entry: &Entry| entry.unit == Unit::Hertz && entry.label != "Read at";
    entries.iter().any(is_asked).then(|| asked.frequency())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::StageDesign;

    #[test]
    fn a_record_comes_back() {
        let record = Record {
            id: "a1".to_owned(),
            changed: 1.76e12,
            label: "Focus \"2\"".to_owned(),
            text: "{\"stages\":[]}".to_owned(),
        };
        assert_eq!(Record::read(&record.written()), Some(record));
        for damaged in [
            "",
            "{}",
            "[]",
            "{\"id\":1}",
            "{\"id\":\"a\",\"changed\":null}",
        ] {
            assert_eq!(Record::read(damaged), None);
        }
    }

    #[test]
    fn a_design_without_a_name_is_called_by_what_is_in_it() {
        let mut design = Design::default();
        assert_eq!(label(&design), "Multiple-feedback notch 2.35 kHz");
        design.stages.push(StageDesign::default());
        design.stages.push(StageDesign::default());
        assert_eq!(
            label(&design),
            "Multiple-feedback notch 2.35 kHz and 2 more stages"
        );
        design.about.name = " Focus ".to_owned();
        assert_eq!(label(&design), "Focus");
    }
}
