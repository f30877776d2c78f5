//! Designs as files: samples that every earlier version has saved, and every design there and back.

use polewright::design::{Design, VERSION, check};
use polewright::document::{Kept, change, open, saved};
use serde_json::Value;

/// What an earlier version saved, a design a line.
fn samples(version: u32) -> Vec<Value> {
    let path = format!("tests/samples/version-{version}.jsonl");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let lines = text
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"));
    lines.collect()
}

/// Where a tree says something that another one does not say.
fn missing(tree: &Value, of: &Value, at: &str) -> Option<String> {
    match (tree, of) {
        (Value::Object(map), Value::Object(other)) => map.iter().find_map(|(key, value)| {
            let there = other.get(key).unwrap_or(&Value::Null);
            missing(value, there, &format!("{at}/{key}"))
        }),
        (Value::Array(list), Value::Array(other)) if list.len() == other.len() => {
            let mut pairs = list.iter().zip(other).enumerate();
            pairs.find_map(|(place, (a, b))| missing(a, b, &format!("{at}/{place}")))
        }
        (one, other) => (one != other).then(|| at.to_owned()),
    }
}

#[test]
fn every_version_is_read_and_means_the_same() {
    for version in 1..=VERSION {
        let all = samples(version);
        assert!(all.len() >= 25);
        for (number, mut tree) in all.into_iter().enumerate() {
            let opened = open(&tree.to_string());
            let opened = opened.unwrap_or_else(|errors| panic!("{version}, {number}: {errors:?}"));
            assert_eq!(check(&opened.design), Ok(()), "{version}, {number}");
            assert_eq!(opened.kept, Kept::default());
            // All that it said is said again; what is new is as by default.
            tree["version"] = Value::from(VERSION);
            let written = serde_json::to_value(&opened.design).expect("JSON");
            assert_eq!(missing(&tree, &written, ""), None, "{version}, {number}");
            let by_default = Design::from_tree(tree).expect("a design");
            assert_eq!(by_default, opened.design);
        }
    }
}

#[test]
fn a_file_brings_the_same_design_back() {
    for version in 1..=VERSION {
        for tree in samples(version) {
            let mut design = Design::from_tree(tree).expect("a design");
            design.about.name = "Focus".to_owned();
            design.about.notes = "Two lines,\n\"the\\second\" µ one.".to_owned();
            let opened = open(&saved(&design, &Kept::default())).expect("what was saved");
            assert_eq!(opened.design, design);
            let (a, b) = (&design, &opened.design);
            let trees = [a, b].map(|design| serde_json::to_value(design).expect("JSON"));
            assert_eq!(change(&trees[0], &trees[1]), None);
        }
    }
}
