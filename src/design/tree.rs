//! What in a JSON tree keeps it from being a design: at which place, and what is accepted there.
//!
//! The place is found by trying. The asks' families are told by a tag, so that serde takes a whole ask in before it
//! looks at its entries; a path that is kept while serde reads ends at the ask.

use serde::Deserialize;
use serde_json::Value;

use super::{Design, Field, InputError, Kind, VERSION, fields};
use crate::{json, quantity, shorten};

/// Places that are told at most.
const MOST: usize = 20;
/// A value is quoted up to so many characters.
const QUOTED: usize = 30;
/// And a place up to so many.
const LONGEST_PLACE: usize = 80;
/// Entries that say which of several kinds an object is; without them there is nothing to try.
const TAGS: [&str; 4] = ["family", "kind", "form", "notation"];

/// How serde's complaint begins where an entry is not there that must be.
const MISSING: &str = "missing field";

/// Whether the tree says that it is of a later version than this program's.
pub(super) fn is_later(tree: &Value) -> bool {
    let version = tree.get("version").and_then(Value::as_f64);
    version.is_some_and(|version| version > f64::from(VERSION))
}

/// All that keeps a tree from being a design, in the order in which it is met; at least one.
pub(super) fn misfits(mut tree: Value) -> Vec<InputError> {
    if !tree.is_object() {
        let what = quoted(&tree);
        let message = format!("This is not a design: it is {what}, and an object is expected.");
        return vec![InputError::new("", message)];
    }
    if is_later(&tree) {
        let version = json::written(&tree["version"]);
        let message = format!(
            "This design is of version {}, from a later version of this program; this one reads version {VERSION}.",
            short(&version)
        );
        return vec![InputError::new("/version", message)];
    }
    let mut found = Vec::new();
    while found.len() < MOST
        && let Err(error) = Design::deserialize(&tree)
    {
        let why = error.to_string();
        let path = blamed(&tree, &why);
        let value = tree.pointer(&path).cloned().unwrap_or_default();
        let is_gone = take_away(&mut tree, &path);
        found.push((path, value, why));
        if !is_gone {
            break;
        }
    }
    // What is left is a design, or near enough to one that the demo's fields tell what is accepted.
    let design = Design::deserialize(&tree).unwrap_or_default();
    let known = fields(&design);
    let tell = |(path, value, why): &(String, Value, String)| {
        let field = known.iter().find(|(_, field)| field.path == *path);
        let message = sentence(field.map(|(_, field)| field), path, value, why);
        InputError::new(path, message)
    };
    // A place that lacks something it had until it was taken away is told already.
    let is_first = |(at, (path, _, why)): &(usize, &(String, Value, String))| {
        let inside = format!("{path}/");
        !why.starts_with(MISSING)
            || !found[..*at]
                .iter()
                .any(|(told, ..)| told.starts_with(&inside))
    };
    let told = found.iter().enumerate().filter(is_first);
    told.map(|(_, misfit)| tell(misfit)).collect()
}

/// Takes out the entry that serde complains of, with its place; none where it stands in no object.
pub(super) fn take_blamed(tree: &mut Value, why: &str) -> Option<(String, Value)> {
    let path = blamed(tree, why);
    let value = tree.pointer(&path)?.clone();
    let (parent, key) = path.rsplit_once('/')?;
    tree.pointer_mut(parent)?
        .as_object_mut()?
        .remove(&plain(key))?;
    Some((path, value))
}

/// Several as one text.
pub(super) fn told(errors: &[InputError]) -> String {
    let sentences: Vec<&str> = errors.iter().map(|error| error.message.as_str()).collect();
    sentences.join(" ")
}

/// The place that is complained of: of each object and list in turn, the child without which, and without those
/// before it, the complaint is another.
fn blamed(tree: &Value, why: &str) -> String {
    let mut path = String::new();
    loop {
        let Some(keys) = tree.pointer(&path).map(children) else {
            return path;
        };
        let is_same = |count: usize| {
            let mut tree = tree.clone();
            match tree.pointer_mut(&path) {
                Some(Value::Array(list)) => drop(list.drain(..count)),
                Some(Value::Object(map)) => keys[..count].iter().for_each(|key| {
                    map.remove(&plain(key));
                }),
                _ => {}
            }
            Design::deserialize(&tree).is_err_and(|error| is_alike(&error.to_string(), why))
        };
        if keys.is_empty() || is_same(keys.len()) {
            return path;
        }
        // Once the child is gone the complaint does not come back, so that halves are enough.
        let counts: Vec<usize> = (1..keys.len()).collect();
        let blamed = counts.partition_point(|count| is_same(*count));
        path = format!("{path}/{}", keys[blamed]);
    }
}

/// Whether two complaints are the same. Where something is missing already, more of it may be.
fn is_alike(one: &str, other: &str) -> bool {
    one == other || one.starts_with(MISSING) && other.starts_with(MISSING)
}

/// The keys of what a value holds, as they stand in a pointer; those that say what the others mean come last.
fn children(value: &Value) -> Vec<String> {
    match value {
        Value::Object(map) => {
            let keys = map.keys();
            let (last, first): (Vec<&String>, Vec<&String>) =
                keys.partition(|key| TAGS.contains(&key.as_str()));
            let escaped = |key: &String| key.replace('~', "~0").replace('/', "~1");
            first.into_iter().chain(last).map(escaped).collect()
        }
        Value::Array(list) => (0..list.len()).map(|at| at.to_string()).collect(),
        _ => Vec::new(),
    }
}

/// A pointer's key as it stands in an object.
fn plain(key: &str) -> String {
    key.replace("~1", "/").replace("~0", "~")
}

/// Takes a value out of the object in which it stands; with it all of the list that it stands in, as the others' places
/// must not change. Whether it was there.
fn take_away(tree: &mut Value, path: &str) -> bool {
    let Some((parent, key)) = path.rsplit_once('/') else {
        return false;
    };
    match tree.pointer_mut(parent) {
        Some(Value::Object(map)) => map.remove(&plain(key)).is_some(),
        Some(Value::Array(_)) => take_away(tree, parent),
        _ => false,
    }
}

/// What is wrong at a place, and what is accepted: the field's words where there is one, else serde's.
fn sentence(field: Option<&Field>, path: &str, value: &Value, why: &str) -> String {
    let place = format!("“{}”", shorten(path, LONGEST_PLACE));
    if let Some(missing) = why.strip_prefix(MISSING) {
        let missing = missing.trim().replace('`', "\"");
        return format!("{place} has no {missing}; accepted: an object with one.");
    }
    let what = quoted(value);
    let name = field.map_or(place, |field| field.label.clone());
    let expected = match field.map(|field| &field.kind) {
        Some(Kind::Quantity {
            unit,
            lowest,
            highest,
            empty,
            whole,
            ..
        }) => Some(format!(
            "{} from {} to {}{}",
            if *whole { "a whole number" } else { "a number" },
            quantity::exact(*lowest, *unit),
            quantity::exact(*highest, *unit),
            match *empty {
                None => String::new(),
                Some("") => ", or null".to_owned(),
                Some(words) => format!(", or null for “{words}”"),
            },
        )),
        Some(Kind::List {
            unit,
            lowest,
            highest,
        }) => Some(format!(
            "a list of numbers from {} to {}, or null",
            quantity::exact(*lowest, *unit),
            quantity::exact(*highest, *unit)
        )),
        Some(Kind::Choice { options }) => {
            let words = options.iter().map(|(word, _)| match &**word {
                "" => "null".to_owned(),
                "true" | "false" => word.to_string(),
                word => format!("\"{word}\""),
            });
            Some(words.collect::<Vec<_>>().join(", "))
        }
        Some(Kind::Text { longest, .. }) => Some(format!("a text of {longest} characters at most")),
        None => why
            .rsplit_once(", expected ")
            .map(|(_, kind)| in_words(kind)),
    };
    match expected {
        Some(expected) if why.starts_with("unknown field") => {
            format!("There is no {name} in a design; accepted: {expected}.")
        }
        Some(expected) => format!("{name} is {what}; accepted: {expected}."),
        None => format!("{name} is no part of a design: {}.", shorten(why, 200)),
    }
}

/// What serde expects, in words.
fn in_words(kind: &str) -> String {
    match kind {
        "f64" => "a number".to_owned(),
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number of 0 or more".to_owned(),
        "a string" => "a text".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "a sequence" => "a list".to_owned(),
        "a map" => "an object".to_owned(),
        "unit" => "null".to_owned(),
        kind if kind.starts_with("struct ") || kind.starts_with("internally tagged") => {
            "an object".to_owned()
        }
        kind => kind.replace('`', "\""),
    }
}

fn quoted(value: &Value) -> String {
    match value {
        Value::Object(_) => "an object".to_owned(),
        Value::Array(_) => "a list".to_owned(),
        value => short(&json::written(value)),
    }
}

fn short(text: &str) -> String {
    shorten(text, QUOTED)
}
