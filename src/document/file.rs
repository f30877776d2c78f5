//! A design as a file: JSON, with all that decides an outcome written out, so that it means the same to a later version
//! whose defaults are others.
//!
//! The file is the design itself; DEVELOPERS.md describes its entries. Earlier versions are read. Of a later version all is
//! read that this one knows; what it does not know is kept, and stands in the file again when it is saved.

use serde_json::Value;

use crate::design::{Design, InputError, later};
use crate::json;

/// What a file holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    pub design: Design,
    /// What belongs to a later version.
    pub kept: Kept,
}

/// Entries of a file that this program does not know, and the version that does.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kept {
    pub version: u32,
    /// JSON pointers (RFC 6901) with what stood there.
    pub entries: Vec<(String, Value)>,
}

/// Longest name of a file without its ending, characters.
const LONGEST_NAME: usize = 60;

/// The design in a file's text.
///
/// # Errors
/// Where it is no JSON, and all that keeps it from being a design. Of a later version's entries those are told that
/// cannot be left out: where something known has a value that this version does not know.
pub fn open(text: &str) -> Result<Opened, Vec<InputError>> {
    // Some editors put a byte order mark in front.
    let text = text.trim_start_matches('\u{feff}');
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let tree = json::read(text).map_err(|error| {
        let what = format!("This file is no design, or it is cut off: {error}.");
        vec![InputError::new("", what)]
    })?;
    let Some(version) = later::version(&tree) else {
        let design = Design::from_tree(tree)?;
        return Ok(Opened {
            design,
            kept: Kept::default(),
        });
    };
    let (design, entries) = later::read(tree)?;
    Ok(Opened {
        design,
        kept: Kept { version, entries },
    })
}

/// The text of a file with this design, and with what an earlier file had of a later version: each entry where it
/// stood, if that place is still there.
pub fn saved(design: &Design, kept: &Kept) -> String {
    let mut tree = serde_json::to_value(design).unwrap_or_default();
    for (path, value) in &kept.entries {
        let Some((parent, key)) = path.rsplit_once('/') else {
            continue;
        };
        if let Some(Value::Object(map)) = tree.pointer_mut(parent) {
            let key = key.replace("~1", "/").replace("~0", "~");
            map.entry(key).or_insert_with(|| value.clone());
            tree["version"] = Value::from(kept.version);
        }
    }
    json::in_lines(&tree)
}

/// A name for the file: the design's own in letters, digits and hyphens, or the first circuit's.
pub fn file_name(design: &Design) -> String {
    let plain = |name: &str| {
        let words = name.split(|c: char| !c.is_alphanumeric());
        let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
        let name = words.join("-").to_lowercase();
        name.chars().take(LONGEST_NAME).collect::<String>()
    };
    let own = plain(&design.about.name);
    let first = || design.stages.first().map(|stage| plain(&stage.circuit));
    let name = match own.is_empty() {
        true => first().unwrap_or_else(|| "loop".to_owned()),
        false => own,
    };
    format!("{name}.json")
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::design::VERSION;

    #[test]
    fn a_later_versions_entries_are_kept_and_written_again() {
        let mut tree = serde_json::to_value(Design::default()).unwrap();
        tree["version"] = json!(VERSION + 3);
        tree["enclosure"] = json!({ "kind": "die-cast" });
        tree["stages"][0]["noise/limit"] = json!(1e-6);
        let opened = open(&tree.to_string()).expect("a design");
        assert_eq!(opened.design, Design::default());
        let mut places: Vec<&str> = opened.kept.entries.iter().map(|e| e.0.as_str()).collect();
        places.sort_unstable();
        assert_eq!(places, ["/enclosure", "/stages/0/noise~1limit"]);
        let again: Value = serde_json::from_str(&saved(&opened.design, &opened.kept)).unwrap();
        assert_eq!(again, tree);
    }

    #[test]
    fn a_later_versions_values_are_not_guessed() {
        let tree = json!({ "version": VERSION + 1, "stages": [{ "prefer": "quietest" }] });
        let errors = open(&tree.to_string()).expect_err("an unknown preference");
        assert!(errors[0].path.ends_with("/prefer"), "{errors:?}");
    }

    #[test]
    fn what_is_not_kept_of_this_version_is_an_error() {
        let tree = json!({ "version": VERSION, "enclosure": 1 });
        let errors = open(&tree.to_string()).expect_err("an unknown entry");
        assert_eq!(errors[0].path, "/enclosure");
    }

    #[test]
    fn files_have_names_that_any_system_takes() {
        let mut design = Design::default();
        assert_eq!(file_name(&design), "mfb-notch.json");
        design.about.name = " Focus: notch/board №2 ".to_owned();
        assert_eq!(file_name(&design), "focus-notch-board-2.json");
        design.about.name = "//..\\".to_owned();
        assert_eq!(file_name(&design), "mfb-notch.json");
        design.stages.clear();
        assert_eq!(file_name(&design), "loop.json");
    }

    #[test]
    fn no_end_of_a_cut_file_is_a_design() {
        let text = saved(&Design::default(), &Kept::default());
        for end in 0..text.trim_end().len() {
            assert!(open(&text[..end]).is_err(), "{end}");
        }
        assert!(open(&format!("\u{feff}{text}")).is_ok());
    }
}
