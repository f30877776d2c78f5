//! What is told to be enough where no set from the shelf holds every limit: each is done as a reader would do it, and
//! the program itself is asked again.

use polewright::{catalogue_json, solve_json};
use proptest::prelude::*;
use serde_json::{Value, json};

const SERIES: [&str; 4] = ["E3", "E6", "E12", "E24"];

fn solved(design: &Value) -> Value {
    let outcome: Value = serde_json::from_str(&solve_json(&design.to_string())).expect("JSON");
    let errors = &outcome["errors"];
    assert!(errors.is_null(), "{errors} of {design}");
    outcome["stages"][0].clone()
}

/// What is said of a design's only stage where its parts do not hold, line by line.
fn refusal(design: &Value) -> Vec<String> {
    let stage = solved(design);
    let notes = stage["notes"].as_array().expect("notes");
    let mut texts = notes.iter().filter_map(|note| note["text"].as_str());
    let told = texts.find(|text| text.starts_with("No set from the shelf holds every limit"));
    told.map_or_else(Vec::new, |told| told.lines().map(str::to_owned).collect())
}

/// The design with one remedy taken, as its sentence says; none for those that cannot be done with one entry.
fn with(design: &Value, remedy: &str) -> Option<Value> {
    let mut changed = design.clone();
    let between = |before: &str, after: &str| remedy.strip_prefix(before)?.strip_suffix(after);
    if let Some(series) = between("· resistors of the ", " series") {
        changed["shelf"]["resistors"]["series"] = json!(series);
    } else if let Some(series) = between("· capacitors of the ", " series") {
        changed["shelf"]["capacitors"]["series"] = json!(series);
    } else if let Some(bandwidth) = between("· an op amp with a gain-bandwidth of ", "Hz") {
        let (number, prefix) = bandwidth.split_once(' ')?;
        let unit = match prefix {
            "" => 1.0,
            "k" => 1e3,
            "M" => 1e6,
            "G" => 1e9,
            _ => panic!("{remedy}"),
        };
        let number: f64 = number.parse().expect("a number");
        changed["op_amp"]["gain_bandwidth"] = json!(number * unit);
    } else if remedy == "· no fixed values" {
        changed["stages"][0]["pins"] = json!({});
    } else {
        return None;
    }
    Some(changed)
}

/// A stage of the catalogue as it is first asked for, at another frequency, with a coarse shelf, a slow op amp and
/// perhaps a resistor that is fixed.
fn design((which, series, rough, pin): (usize, usize, [f64; 2], Option<f64>)) -> Value {
    let catalogue: Value = serde_json::from_str(&catalogue_json()).expect("JSON");
    let all = catalogue.as_array().expect("a list");
    let entry = &all[which % all.len()];
    let mut ask = entry["ask"].clone();
    for name in ["frequency", "corner", "zero", "pole"] {
        if let Some(own) = ask[name].as_f64() {
            ask[name] = json!(own * rough[0]);
        }
    }
    let mut design = json!({
        "stages": [{ "circuit": entry["circuit"], "ask": ask }],
        "shelf": { "resistors": { "series": SERIES[series] }, "capacitors": { "series": "E3" } },
        "op_amp": { "gain_bandwidth": 1e6 * rough[1] },
        "spread": { "boards": 100 },
        "view": { "compare": false, "blame": false, "propose": false },
    });
    if let Some(ohms) = pin {
        let stage = solved(&design);
        let parts = stage["parts"].as_array().expect("parts").iter();
        let mut names = parts.filter_map(|part| part["name"].as_str());
        if let Some(name) = names.find(|name| name.starts_with('R')) {
            design["stages"][0]["pins"] = json!({ name: ohms });
        }
    }
    design
}

/// Whether any remedy was tried.
fn is_enough(design: &Value) -> bool {
    let mut is_any = false;
    for remedy in refusal(design).iter().filter(|line| line.starts_with('·')) {
        if let Some(changed) = with(design, remedy) {
            let still = refusal(&changed);
            assert!(
                still.is_empty(),
                "{remedy} of {design}\n{}",
                still.join("\n")
            );
            is_any = true;
        }
    }
    is_any
}

#[test]
fn a_coarse_shelf_is_told_as_such() {
    let coarse = |pins: Value| {
        let ask = json!({ "family": "notch", "frequency": 1800.0, "q": 2.0 });
        json!({
            "stages": [{ "circuit": "mfb-notch", "ask": ask, "pins": pins }],
            "shelf": { "resistors": { "series": "E3" } },
            "spread": { "boards": 100 },
            "view": { "compare": false, "blame": false, "propose": false },
        })
    };
    for design in [coarse(json!({})), coarse(json!({ "R1": 22e3 }))] {
        let told = refusal(&design).join("\n");
        assert!(told.contains("resistors of the E"), "{told}");
        // No op amp brings values nearer to each other.
        assert!(!told.contains("gain-bandwidth"), "{told}");
        assert!(is_enough(&design));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn each_remedy_is_enough_by_itself(
        drawn in (0usize..1000, 0usize..4, [0.2..8.0f64, 0.1..10.0f64], proptest::option::of(300.0..3e5f64))
    ) {
        is_enough(&design(drawn));
    }
}
