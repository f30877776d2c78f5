//! Design files as nobody would write them: cut, overwritten, of versions to come; and any two designs side by side.

use polewright::comparison::entries;
use polewright::design::Design;
use polewright::document::{label, open, saved};
use serde_json::{Value, json};

use crate::designs::{self, Manner, places};
use crate::numbers::Numbers;

/// A design file, damaged or not.
pub fn draw(numbers: &mut Numbers) -> Vec<u8> {
    let manner = numbers.one_of(&Manner::ALL);
    let mut tree = designs::draw(numbers, manner);
    if numbers.chance(0.5) {
        to_come(numbers, &mut tree);
    }
    let mut bytes = tree.to_string().into_bytes();
    if numbers.chance(0.5) {
        damage(numbers, &mut bytes);
    }
    bytes
}

/// Entries and a number of a later version.
fn to_come(numbers: &mut Numbers, tree: &mut Value) {
    let versions = [
        json!(0),
        json!(99),
        json!(u64::MAX),
        json!(1e300),
        json!(-1),
        json!("2"),
    ];
    tree["version"] = versions[numbers.below(versions.len())].clone();
    let all = places(tree);
    for _ in 0..numbers.below(6) {
        let place = all[numbers.below(all.len())].clone();
        if let Some(Value::Object(map)) = tree.pointer_mut(&place) {
            let names = ["", "noise/limit", "~", "zzz", "version", "\u{7}"];
            let name = numbers.one_of(&names).to_owned();
            map.entry(name).or_insert(json!({ "a": [1, null] }));
        }
    }
}

fn damage(numbers: &mut Numbers, bytes: &mut Vec<u8>) {
    match numbers.below(3) {
        0 => bytes.truncate(numbers.below(bytes.len())),
        1 => {
            for _ in 0..1 + numbers.below(4) {
                let at = numbers.below(bytes.len());
                bytes[at] = numbers.next() as u8;
            }
        }
        _ => {
            let at = numbers.below(bytes.len());
            let piece = bytes[at..].to_vec();
            bytes.extend(piece);
        }
    }
}

/// What must hold of any file: it is a design that comes back from what is saved of it, with what it has of a later
/// version; or it is refused in sentences.
///
/// # Errors
/// What does not hold.
pub fn opened(bytes: &[u8]) -> Result<(), String> {
    let text = String::from_utf8_lossy(bytes);
    let opened = match open(&text) {
        Ok(opened) => opened,
        Err(errors) => {
            let is_sentence = |message: &str| message.ends_with('.');
            let all = !errors.is_empty() && errors.iter().all(|error| is_sentence(&error.message));
            return all.then_some(()).ok_or(format!("{errors:?}"));
        }
    };
    let again =
        open(&saved(&opened.design, &opened.kept)).map_err(|errors| format!("{errors:?}"))?;
    if again.design != opened.design {
        return Err("another design comes back".to_owned());
    }
    // An entry goes with the list or the part that it stood in.
    let lost = opened
        .kept
        .entries
        .len()
        .saturating_sub(again.kept.entries.len());
    let tree = serde_json::to_value(&opened.design).map_err(|error| error.to_string())?;
    let has_place = |path: &String| {
        let parent = path.rsplit_once('/').map_or("", |(parent, _)| parent);
        tree.pointer(parent).is_some_and(Value::is_object)
    };
    let with_place = opened
        .kept
        .entries
        .iter()
        .filter(|entry| has_place(&entry.0));
    if with_place.count() + lost < opened.kept.entries.len() {
        return Err("entries of a later version are lost".to_owned());
    }
    match label(&opened.design).is_empty() {
        true => Err("a design without a label".to_owned()),
        false => compared(&opened.design),
    }
}

/// A design beside the demo, both ways, and beside itself.
fn compared(design: &Design) -> Result<(), String> {
    let demo = Design::default();
    if let Some(one) = entries(design, design).first() {
        return Err(format!("a design differs from itself: {one:?}"));
    }
    let there = entries(design, &demo);
    let back = entries(&demo, design);
    if there.len() != back.len() {
        return Err(format!(
            "{} differences there, {} back",
            there.len(),
            back.len()
        ));
    }
    let said = |words: &Option<String>| words.as_ref().is_none_or(|words| words.len() < 10_000);
    let is_told = there
        .iter()
        .all(|one| !one.label.is_empty() && !one.place.is_empty() && said(&one.now));
    is_told
        .then_some(())
        .ok_or("a difference without words".to_owned())
}
