//! Where the entries of two designs differ: everything that decides an outcome.

use std::collections::BTreeMap;

use serde_json::Value;

use super::align::{Pair, pairs};
use crate::design::{Design, fields};
use crate::quantity::{Unit, rounded};
use crate::stages::catalogued;
use crate::wording::hertz;

/// An entry that is not the same in both designs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EntryDifference {
    /// Where it stands: a stage with its number, or what the page calls its group.
    pub place: String,
    pub label: String,
    /// What stands there, as a user would type it; none where that design has no such entry.
    pub now: Option<String>,
    pub copy: Option<String>,
}

/// What is seen or said and decides nothing.
const WITHOUT_EFFECT: [&str; 4] = ["/version", "/about", "/view", "/by_whole"];

/// What may be there or not as a whole.
const WHOLES: [(&str, &str); 6] = [
    ("/servo/model", "Model in use instead of a fitted one"),
    ("/servo/advice", "Notch advice"),
    ("/servo/shape", "Controller for a crossover"),
    ("/servo/whole", "Controller and notches together"),
    ("/servo/shaft", "Shaft"),
    ("/servo/supply", "Supply"),
];

/// What groups are called, by the beginning of their entries' paths; the first that fits counts.
const PLACES: [(&str, &str); 17] = [
    ("/shelf", "Parts in stock"),
    ("/op_amp", "Op amps"),
    ("/conditions", "Board"),
    ("/signal", "Largest signal"),
    ("/noise", "Noise band"),
    ("/spread", "Spread"),
    ("/filter", "Filter"),
    ("/servo/asked", "Loop limits"),
    ("/servo/drift", "Plant tolerance"),
    ("/servo/motion", "Time response"),
    ("/servo/model", "Plant model"),
    ("/servo/fit", "Fit"),
    ("/servo/shaft", "Shaft"),
    ("/servo/supply", "Supply"),
    ("/servo/units", "Plant"),
    ("/servo/sweep", "Plant"),
    ("/servo", "Loop"),
];

/// What an entry is called that is set by pressing or dropping something.
const NOT_TYPED: [(&str, &str); 6] = [
    ("/circuit", "Circuit"),
    ("/choice", "Parts in use"),
    ("/sweep", "Measured sweep"),
    ("/rows", "Measured rows"),
    ("/stimulus/kind", "Stimulus"),
    ("/ask/kind", "Requirement"),
];

/// An entry of one design.
struct Entry {
    place: String,
    label: String,
    value: Value,
    text: String,
}

/// All entries that differ, in the order of the page; a stage that only one design has is one of them.
pub fn entries(now: &Design, copy: &Design) -> Vec<EntryDifference> {
    let pairs = pairs(&now.stages, &copy.stages);
    let mut found = whole_stages(now, copy, &pairs);
    let trees = [now, copy].map(|design| serde_json::to_value(design).unwrap_or_default());
    for (prefix, label) in WHOLES {
        let [is_now, is_copy] = trees.each_ref().map(|tree| is_there(tree, prefix));
        if is_now != is_copy {
            let word = |is_there| Some(if is_there { "present" } else { "none" }.to_owned());
            found.push(EntryDifference {
                place: place(prefix),
                label: label.to_owned(),
                now: word(is_now),
                copy: word(is_copy),
            });
        }
    }
    // What is asked of a loop decides nothing where there is no plant.
    let has_plant = [now, copy].iter().any(|design| design.servo.has_plant());
    let is_whole_missing = |key: &str| {
        let is_in = |prefix: &str| key.starts_with(prefix);
        let mut wholes = WHOLES.iter().map(|(prefix, _)| *prefix);
        wholes.any(|prefix| is_in(prefix) && trees.iter().any(|tree| !is_there(tree, prefix)))
    };
    let (order, now) = all(now, &trees[0], |stage| {
        let at = pairs.iter().position(|pair| pair.now == Some(stage))?;
        pairs[at].copy.map(|_| at)
    });
    let (more, copy) = all(copy, &trees[1], |stage| {
        let at = pairs.iter().position(|pair| pair.copy == Some(stage))?;
        pairs[at].now.map(|_| at)
    });
    let more = more.into_iter().filter(|key| !now.contains_key(key));
    for key in order.into_iter().chain(more) {
        let (a, b) = (now.get(&key), copy.get(&key));
        let is_same = a.map(|entry| &entry.value) == b.map(|entry| &entry.value);
        let is_nothing = |entry: Option<&Entry>| entry.is_none_or(|entry| entry.value.is_null());
        let is_idle = !has_plant && key.starts_with("/servo/") && key != "/servo/sweep";
        if is_same || is_idle || is_whole_missing(&key) || (is_nothing(a) && is_nothing(b)) {
            continue;
        }
        let Some(named) = a.or(b) else { continue };
        let text = |entry: Option<&Entry>| entry.map(|entry| entry.text.clone());
        let (now, mut copy) = (text(a), text(b));
        if now == copy {
            // Long lists are told by their lengths.
            copy = copy.map(|text| format!("{text}, with other values"));
        }
        found.push(EntryDifference {
            place: named.place.clone(),
            label: named.label.clone(),
            now,
            copy,
        });
    }
    found
}

/// Stages that one of the designs has alone.
fn whole_stages(now: &Design, copy: &Design, pairs: &[Pair]) -> Vec<EntryDifference> {
    let alone = pairs.iter().filter_map(|pair| {
        let (design, stage, is_now) = match (pair.now, pair.copy) {
            (Some(stage), None) => (now, stage, true),
            (None, Some(stage)) => (copy, stage, false),
            _ => return None,
        };
        let title = Some(title(&design.stages[stage].circuit).to_owned());
        Some(EntryDifference {
            place: match is_now {
                true => format!("Stage {}", stage + 1),
                false => format!("Stage {} of the copy", stage + 1),
            },
            label: "Stage".to_owned(),
            now: title.clone().filter(|_| is_now),
            copy: title.filter(|_| !is_now),
        })
    });
    alone.collect()
}

fn is_there(tree: &Value, pointer: &str) -> bool {
    tree.pointer(pointer).is_some_and(|value| !value.is_null())
}

fn title(circuit: &str) -> &str {
    catalogued(circuit).map_or(circuit, |circuit| circuit.title())
}

/// Every entry of a design by a key that both designs share, and the keys in order. `pair_of` tells which pair a
/// stage belongs to; entries of a stage without one are left out.
fn all(
    design: &Design,
    tree: &Value,
    pair_of: impl Fn(usize) -> Option<usize>,
) -> (Vec<String>, BTreeMap<String, Entry>) {
    let (mut order, mut entries) = (Vec::new(), BTreeMap::new());
    let mut put = |path: &str, label: String, value: Value, text: String| {
        let Some(key) = key(path, &pair_of) else {
            return;
        };
        if entries.contains_key(&key) {
            return;
        }
        let place = match stage_of(path) {
            Some((stage, _)) => stage_place(design, stage),
            None => place(path),
        };
        order.push(key.clone());
        let entry = Entry {
            place,
            label,
            value,
            text,
        };
        entries.insert(key, entry);
    };
    for (_, field) in fields(design) {
        let value = tree.pointer(&field.path).cloned().unwrap_or_default();
        let text = field.words(&value);
        put(&field.path, field.label, value, text);
    }
    let mut rest = Vec::new();
    leaves(String::new(), tree, &mut rest);
    for (path, value) in rest {
        let text = told(design, &path, value);
        put(&path, label(&path), value.clone(), text);
    }
    (order, entries)
}

/// A stage's place in its path, and the rest of an entry's path.
fn stage_of(path: &str) -> Option<(usize, &str)> {
    let rest = path.strip_prefix("/stages/")?;
    let (stage, rest) = rest.split_once('/')?;
    Some((stage.parse().ok()?, rest))
}

fn key(path: &str, pair_of: impl Fn(usize) -> Option<usize>) -> Option<String> {
    let is_without = |part: &&str| path.starts_with(part) || path.ends_with(part);
    if WITHOUT_EFFECT.iter().any(is_without) {
        return None;
    }
    match stage_of(path) {
        Some((stage, rest)) => Some(format!("/stages/{}/{rest}", pair_of(stage)?)),
        None => Some(path.to_owned()),
    }
}

fn stage_place(design: &Design, stage: usize) -> String {
    let circuit = design.stages.get(stage).map_or("", |s| s.circuit.as_str());
    format!("{} {}", stage + 1, title(circuit))
}

fn place(path: &str) -> String {
    let mut places = PLACES.iter();
    let found = places.find(|(prefix, _)| path.starts_with(prefix));
    found.map_or("Design", |(_, words)| words).to_owned()
}

/// Everything that is no list of objects and no object.
fn leaves<'a>(path: String, tree: &'a Value, found: &mut Vec<(String, &'a Value)>) {
    match tree {
        Value::Object(map) => {
            for (name, value) in map {
                let name = name.replace('~', "~0").replace('/', "~1");
                leaves(format!("{path}/{name}"), value, found);
            }
        }
        Value::Array(list) if list.iter().any(Value::is_object) => {
            for (place, value) in list.iter().enumerate() {
                leaves(format!("{path}/{place}"), value, found);
            }
        }
        _ => found.push((path, tree)),
    }
}

/// What an entry is called that has no field: its name's words.
fn label(path: &str) -> String {
    let mut known = NOT_TYPED.iter();
    if let Some((_, words)) = known.find(|(end, _)| path.ends_with(end)) {
        return (*words).to_owned();
    }
    let name = path.rsplit('/').next().unwrap_or_default();
    let words = name.replace('_', " ");
    let mut letters = words.chars();
    let first = letters.next().map(|letter| letter.to_uppercase());
    first.into_iter().flatten().chain(letters).collect()
}

/// The value of an entry that has no field.
fn told(design: &Design, path: &str, value: &Value) -> String {
    match value {
        Value::String(circuit) if path.ends_with("/circuit") => title(circuit).to_owned(),
        Value::String(_) if path == "/servo/sweep" => of_sweep(design),
        Value::Number(choice) if path.ends_with("/choice") => match choice.as_u64() {
            Some(0) => "best set".to_owned(),
            _ => format!("next-best set {choice}"),
        },
        Value::String(words) => words.clone(),
        Value::Number(number) => rounded(number.as_f64().unwrap_or(f64::NAN), Unit::One, 6),
        Value::Array(list) if list.len() > 6 => format!("{} numbers", list.len()),
        Value::Null => "none".to_owned(),
        other => other.to_string(),
    }
}

/// How long a sweep is: its numbers are no text for a table.
fn of_sweep(design: &Design) -> String {
    match design.servo.ends() {
        None => "none".to_owned(),
        Some((points, low, high)) => {
            format!("{points} points, {} to {}", hertz(low), hertz(high))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::StageDesign;

    fn told(now: &Design, copy: &Design) -> Vec<(String, String, String, String)> {
        let words = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
        let all = entries(now, copy).into_iter();
        all.map(|one| (one.place, one.label, words(one.now), words(one.copy)))
            .collect()
    }

    fn row(place: &str, label: &str, now: &str, copy: &str) -> (String, String, String, String) {
        let [place, label, now, copy] = [place, label, now, copy].map(str::to_owned);
        (place, label, now, copy)
    }

    #[test]
    fn the_same_design_differs_nowhere() {
        let mut other = Design::default();
        other.about.name = "another name".to_owned();
        other.view.decades = 2.0;
        assert_eq!(told(&Design::default(), &other), []);
    }

    #[test]
    fn entries_are_told_as_they_are_typed() {
        let copy = Design::default();
        let tree = |path: &str, value: Value| crate::design::Edit {
            path: path.to_owned(),
            value,
        };
        let edits = [
            tree("/stages/0/ask/q", Value::from(3)),
            tree("/stages/0/pins/C1", Value::from(4.7e-9)),
            tree("/shelf/resistors/series", Value::from("E24")),
            tree("/servo/asked/settling", Value::from(0.02)),
        ];
        let mut copy = copy;
        copy.servo.sweep = "f\tr\ti\n10.0\t1.0\t0.0\n20.0\t1.0\t0.0\n".to_owned();
        let now = copy.edited(&edits).expect("a design");
        let stage = "1 Multiple-feedback notch";
        let series = copy.shelf.resistors.series;
        assert_eq!(
            told(&now, &copy),
            [
                row(stage, "Q", "3", "2"),
                row(stage, "Fix C1", "4.7 nF", ""),
                row(
                    "Parts in stock",
                    "Series of resistors",
                    "E24",
                    &format!("{series:?}")
                ),
                row("Loop limits", "Maximum settling time", "20 ms", "no limit"),
            ]
        );
    }

    #[test]
    fn a_stage_put_in_front_is_one_difference() {
        let copy = Design::default();
        let mut now = copy.clone();
        let first = StageDesign {
            circuit: "gain-inverting".to_owned(),
            ask: catalogued("gain-inverting")
                .expect("a circuit")
                .default_ask(),
            ..StageDesign::default()
        };
        now.stages.insert(0, first);
        let title = title("gain-inverting");
        assert_eq!(told(&now, &copy), [row("Stage 1", "Stage", title, "-")]);
        let back = row("Stage 1 of the copy", "Stage", "-", title);
        assert_eq!(told(&copy, &now), [back]);
    }

    #[test]
    fn a_whole_that_is_missing_is_one_difference() {
        let copy = Design::default();
        let mut now = copy.clone();
        now.servo.supply = Some(crate::supply::Supply::default());
        assert_eq!(
            told(&now, &copy),
            [row("Supply", "Supply", "present", "none")]
        );
    }

    #[test]
    fn sweeps_are_told_by_their_lengths() {
        let copy = Design::default();
        let mut now = copy.clone();
        now.servo.sweep = "f\tr\ti\n10.0\t1.0\t0.0\n20.0\t1.0\t0.0\n".to_owned();
        let row_now = row(
            "Plant",
            "Measured sweep",
            "2 points, 10 Hz to 20 Hz",
            "none",
        );
        assert_eq!(told(&now, &copy), [row_now]);
        let mut other = now.clone();
        other.servo.sweep = now.servo.sweep.replace("1.0", "2.0");
        let text = "2 points, 10 Hz to 20 Hz, with other values";
        assert_eq!(told(&now, &other)[0].3, text);
    }
}
