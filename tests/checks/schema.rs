//! The schema of design files (JSON Schema, draft 2020-12) against a validator from outside, the crate `jsonschema`.

use jsonschema::Validator;
use polewright::design::{Design, StageDesign, VERSION, check};
use polewright::document::{Kept, open, saved, schema};
use polewright::stages::CATALOGUE;
use serde_json::{Value, json};

const FILE: &str = "src/document/design.schema.json";

fn validator() -> Validator {
    jsonschema::draft202012::new(&schema()).expect("a schema")
}

fn complaints(validator: &Validator, tree: &Value) -> Vec<String> {
    let all = validator.iter_errors(tree);
    all.map(|error| format!("{}: {error}", error.instance_path()))
        .collect()
}

/// What is read by others is what the program says now.
#[test]
fn the_schema_in_the_repository_is_that_of_this_version() {
    let text = serde_json::to_string_pretty(&schema()).expect("JSON") + "\n";
    if std::env::var_os("WRITE_SCHEMA").is_some() {
        std::fs::write(FILE, &text).expect(FILE);
    }
    let known = std::fs::read_to_string(FILE).unwrap_or_default();
    assert!(
        known == text,
        "{FILE} is of another version: WRITE_SCHEMA=1 writes it again"
    );
}

#[test]
fn every_file_fits_the_schema() {
    let validator = validator();
    let path = format!("tests/samples/version-{VERSION}.jsonl");
    let samples = std::fs::read_to_string(&path).expect(&path);
    let mut trees: Vec<Value> = samples
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    trees.push(json!({ "version": VERSION }));
    for circuit in CATALOGUE {
        let mut design = Design::default();
        design.about.name = circuit.title().to_owned();
        design.stages = vec![StageDesign {
            circuit: circuit.id().to_owned(),
            ask: circuit.default_ask(),
            ..StageDesign::default()
        }];
        let text = saved(&design, &Kept::default());
        trees.push(serde_json::from_str(&text).expect("JSON"));
    }
    assert!(trees.len() > 60);
    for tree in trees {
        assert_eq!(complaints(&validator, &tree), [""; 0], "{tree:.300}");
    }
}

/// Every entry in turn becomes something of another type: what the schema refuses the program refuses.
#[test]
fn what_does_not_fit_the_schema_is_not_read() {
    let validator = validator();
    let path = format!("tests/samples/version-{VERSION}.jsonl");
    let samples = std::fs::read_to_string(&path).expect(&path);
    let (mut tried, mut refused) = (0, 0);
    for line in samples.lines().step_by(4) {
        let tree: Value = serde_json::from_str(line).expect("JSON");
        let mut all = Vec::new();
        places(&tree, String::new(), &mut all);
        for place in all {
            // A list may stand for an object whose entries it has in order: serde reads it so.
            for odd in [json!("x"), json!(true), json!({ "x": 1 })] {
                let mut other = tree.clone();
                *other.pointer_mut(&place).expect("a place") = odd;
                tried += 1;
                if !validator.is_valid(&other) {
                    refused += 1;
                    let text = other.to_string();
                    let is_refused =
                        open(&text).map_or(true, |opened| check(&opened.design).is_err());
                    assert!(is_refused, "{place} of {text:.300}");
                }
            }
        }
    }
    println!("{refused} of {tried} refused");
    assert!(refused > tried * 9 / 10, "{refused} of {tried}");
}

fn places(tree: &Value, at: String, all: &mut Vec<String>) {
    match tree {
        Value::Object(map) => {
            for (name, below) in map {
                let name = name.replace('~', "~0").replace('/', "~1");
                places(below, format!("{at}/{name}"), all);
            }
        }
        Value::Array(list) if list.first().is_some_and(Value::is_object) => {
            for (place, below) in list.iter().enumerate() {
                places(below, format!("{at}/{place}"), all);
            }
        }
        _ => all.push(at),
    }
}

/// Every entry is described, by itself or by its type.
#[test]
fn every_entry_is_described() {
    let schema = schema();
    let mut silent = Vec::new();
    walk(&schema, &schema, "", &mut silent);
    assert_eq!(silent, [""; 0]);
}

fn walk(schema: &Value, node: &Value, at: &str, silent: &mut Vec<String>) {
    match node {
        Value::Object(map) => {
            let properties = map.get("properties").and_then(Value::as_object);
            for (name, property) in properties.into_iter().flatten() {
                let reference = property.get("$ref").and_then(Value::as_str);
                let named = reference.and_then(|r| schema.pointer(r.trim_start_matches('#')));
                let is_said = |value: &Value| value.get("description").is_some();
                // What a kind holds is described with that kind.
                let is_kind = property.get("const").is_some()
                    || (is_said(node) && properties.is_some_and(|all| all.len() == 1));
                if !is_kind && !is_said(property) && !named.is_some_and(is_said) {
                    silent.push(format!("{at}/{name}"));
                }
            }
            for (name, below) in map.iter().filter(|(name, _)| *name != "default") {
                walk(schema, below, &format!("{at}/{name}"), silent);
            }
        }
        Value::Array(list) => {
            for (place, below) in list.iter().enumerate() {
                walk(schema, below, &format!("{at}/{place}"), silent);
            }
        }
        _ => {}
    }
}
