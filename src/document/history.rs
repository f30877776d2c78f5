//! The way back over what was changed, and forth again.

use std::sync::Arc;

use serde_json::Value;

/// Steps that are remembered, and characters of all their texts.
const STEPS: usize = 200;
const CHARACTERS: usize = 20_000_000;
/// Changes of one place that follow each other this soon are one step, ms: a number is typed digit by digit.
const ONE: f64 = 1500.0;

/// Designs before each change, as JSON texts.
#[derive(Clone, Debug, Default)]
pub struct History {
    past: Vec<Step>,
    future: Vec<Arc<str>>,
}

#[derive(Clone, Debug)]
struct Step {
    before: Arc<str>,
    /// What was changed, see [`change`].
    place: String,
    /// When it was changed last, ms; none where no further change belongs to it.
    at: Option<f64>,
}

impl History {
    /// Remembers the design before a change of a place at a time (ms). What was undone before cannot be had again.
    pub fn record(&mut self, before: Arc<str>, place: &str, at: f64) {
        self.future.clear();
        if let Some(last) = self.past.last_mut()
            && last.place == place
            && last.at.is_some_and(|then| at - then < ONE)
        {
            last.at = Some(at);
            return;
        }
        self.past.push(Step {
            before,
            place: place.to_owned(),
            at: Some(at),
        });
        let size = |past: &[Step]| past.iter().map(|step| step.before.len()).sum::<usize>();
        while self.past.len() > STEPS || (self.past.len() > 1 && size(&self.past) > CHARACTERS) {
            self.past.remove(0);
        }
    }

    /// The design before the last change, in exchange for the design as it is.
    pub fn undo(&mut self, now: Arc<str>) -> Option<Arc<str>> {
        let step = self.past.pop()?;
        self.future.push(now);
        self.close();
        Some(step.before)
    }

    /// The design before the last [`History::undo`], likewise.
    pub fn redo(&mut self, now: Arc<str>) -> Option<Arc<str>> {
        let after = self.future.pop()?;
        self.past.push(Step {
            before: now,
            place: String::new(),
            at: None,
        });
        Some(after)
    }

    /// Has the next change be a step of its own.
    pub fn close(&mut self) {
        if let Some(last) = self.past.last_mut() {
            last.at = None;
        }
    }

    pub fn can_undo(&self) -> bool {
        !self.past.is_empty()
    }

    pub fn can_redo(&self) -> bool {
        !self.future.is_empty()
    }
}

/// The innermost place (JSON pointer) that holds all that differs between two designs as trees; none where they are the
/// same but for what is shown of them (`/view`).
pub fn change(before: &Value, after: &Value) -> Option<String> {
    let mut places = Vec::new();
    let (Value::Object(a), Value::Object(b)) = (before, after) else {
        return (before != after).then(String::new);
    };
    let keys = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key)));
    for key in keys.filter(|key| *key != "view") {
        if a.get(key) != b.get(key) {
            places.push(key);
        }
    }
    match places[..] {
        [] => None,
        [key] => {
            let (a, b) = (a.get(key), b.get(key));
            let inner = a.zip(b).map_or(String::new(), |(a, b)| innermost(a, b));
            Some(format!("/{key}{inner}"))
        }
        _ => Some(String::new()),
    }
}

/// The same below a place that differs.
fn innermost(before: &Value, after: &Value) -> String {
    let mut differ = Vec::new();
    match (before, after) {
        (Value::Object(a), Value::Object(b)) if a.len() == b.len() => {
            for (key, value) in a {
                match b.get(key) {
                    Some(other) if other == value => {}
                    Some(other) => differ.push((key.clone(), value, other)),
                    None => return String::new(),
                }
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            let pairs = a.iter().zip(b).enumerate();
            let pairs = pairs.filter(|(_, (a, b))| a != b);
            differ.extend(pairs.map(|(place, (a, b))| (place.to_string(), a, b)));
        }
        _ => {}
    }
    match differ[..] {
        [(ref key, a, b)] => format!("/{key}{}", innermost(a, b)),
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::*;

    fn text(number: u32) -> Arc<str> {
        Arc::from(number.to_string())
    }

    #[test]
    fn what_is_typed_digit_by_digit_is_one_step() {
        let mut history = History::default();
        history.record(text(1), "/a", 0.0);
        history.record(text(12), "/a", 400.0);
        history.record(text(123), "/b", 500.0);
        history.record(text(124), "/b", 5000.0);
        assert_eq!(history.undo(text(9)).as_deref(), Some("124"));
        assert_eq!(history.undo(text(124)).as_deref(), Some("123"));
        assert_eq!(history.undo(text(123)).as_deref(), Some("1"));
        assert_eq!(history.undo(text(1)), None);
        assert_eq!(history.redo(text(1)).as_deref(), Some("123"));
        // After a way back the same place begins a new step.
        history.record(text(123), "/a", 5001.0);
        assert!(!history.can_redo());
        assert_eq!(history.undo(text(7)).as_deref(), Some("123"));
    }

    #[test]
    fn the_innermost_place_is_found_and_the_view_does_not_count() {
        let a = json!({ "view": { "stage": 0 }, "stages": [{ "q": 1, "f": 2 }, { "q": 1, "f": 2 }], "x": 0 });
        let mut b = a.clone();
        b["view"]["stage"] = json!(1);
        assert_eq!(change(&a, &b), None);
        b["stages"][1]["q"] = json!(5);
        assert_eq!(change(&a, &b).as_deref(), Some("/stages/1/q"));
        b["stages"][0]["q"] = json!(5);
        assert_eq!(change(&a, &b).as_deref(), Some("/stages"));
        b["x"] = json!(1);
        assert_eq!(change(&a, &b).as_deref(), Some(""));
        b = a.clone();
        b["stages"].as_array_mut().unwrap().pop();
        assert_eq!(change(&a, &b).as_deref(), Some("/stages"));
    }

    proptest! {
        /// Any number of steps back and forth leads through the same designs.
        #[test]
        fn back_and_forth_is_the_same_way(steps in prop::collection::vec((0u8..4, 0.0f64..4000.0), 1..60), back in 0usize..80) {
            let mut history = History::default();
            let (mut now, mut at) = (text(0), 0.0);
            for (number, (place, pause)) in steps.iter().enumerate() {
                at += pause;
                history.record(now.clone(), &format!("/{place}"), at);
                now = text(number as u32 + 1);
            }
            let last = now.clone();
            let mut way = Vec::new();
            for _ in 0..back {
                let Some(before) = history.undo(now.clone()) else { break };
                way.push(std::mem::replace(&mut now, before));
            }
            if back >= steps.len() {
                prop_assert_eq!(&*now, "0");
            }
            while let Some(after) = way.pop() {
                prop_assert!(history.can_redo());
                now = history.redo(now.clone()).expect("a step forth");
                prop_assert_eq!(&now, &after);
            }
            prop_assert!(!history.can_redo());
            prop_assert_eq!(now, last);
        }
    }
}
