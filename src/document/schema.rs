//! What a design's file may hold, as JSON Schema (draft 2020-12): made of the types that read it, of what their comments
//! say, and of the ranges of the fields on the page.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::design::{
    AdviceAsk, Design, Kind, Network, PartSpread, ShapeAsk, ShapeForm, StageDesign, Stop, VERSION,
    WholeAsk, fields,
};
use crate::plant::{Mode, Model};
use crate::spread::Law;
use crate::stages::CATALOGUED;

/// Entries whose range hangs on the rest of their design.
const HANGING: [&str; 2] = ["/network", "/advice/mode"];

/// The schema of this version's files. It says less than [`crate::document::open`]: what entries demand of each other
/// is told there, in sentences.
pub fn schema() -> Value {
    let mut tree = schemars::schema_for!(Design).to_value();
    tree["title"] = json!(format!("A design of polewright, version {VERSION}"));
    let mut bounded = BTreeSet::new();
    for design in examples() {
        bound(&mut tree, &mut bounded, &design);
    }
    tree
}

/// Designs that together have all fields whose ranges are no other field's.
fn examples() -> Vec<Design> {
    let mut all: Vec<Design> = CATALOGUED
        .iter()
        .map(|circuit| Design {
            stages: vec![StageDesign {
                circuit: circuit.id().to_owned(),
                ask: circuit.default_ask(),
                ..StageDesign::default()
            }],
            ..Design::default()
        })
        .collect();
    let mut with_plant = Design::default();
    let servo = &mut with_plant.servo;
    servo.model = Some(Model {
        modes: vec![Mode {
            frequency: 1e3,
            damping: 0.02,
            residue: 1.0,
            slope: 0.0,
        }],
        ..Model::default()
    });
    servo.advice = Some(AdviceAsk::default());
    servo.shape = Some(ShapeAsk {
        form: ShapeForm::Pid,
        ..ShapeAsk::default()
    });
    servo.whole = Some(WholeAsk::default());
    servo.shaft = Some(crate::plant::shaft::Shaft::default());
    servo.supply = Some(crate::supply::Supply::default());
    let spread = &mut with_plant.spread;
    spread.stop = Stop::Stable;
    spread.resistors.law = Law::Normal;
    spread.op_amps.law = Law::Normal;
    spread.networks.push(Network::default());
    with_plant.stages[0].variations.insert(
        "R1".to_owned(),
        PartSpread {
            law: Some(Law::Normal),
            ..PartSpread::default()
        },
    );
    all.push(with_plant);
    all
}

/// Sets the ranges of a design's fields; `bounded` are the places that have one.
fn bound(schema: &mut Value, bounded: &mut BTreeSet<String>, design: &Design) {
    let tree = serde_json::to_value(design).unwrap_or_default();
    for (_, field) in fields(design) {
        let (Kind::Quantity {
            lowest, highest, ..
        }
        | Kind::List {
            lowest, highest, ..
        }) = field.kind
        else {
            continue;
        };
        if HANGING.iter().any(|end| field.path.ends_with(end)) {
            continue;
        }
        let steps: Vec<&str> = field.path.split('/').skip(1).collect();
        let Some(mut at) = locate(schema, String::new(), &tree, &steps) else {
            continue;
        };
        if matches!(field.kind, Kind::List { .. }) {
            at.push_str("/items");
        }
        let Some(Value::Object(node)) = schema.pointer_mut(&at) else {
            continue;
        };
        // A type that stands in several places has the widest of their ranges; what the type alone says is none.
        let is_first = !bounded.contains(&at);
        let mut widen = |key: &str, bound: f64, pick: fn(f64, f64) -> f64| {
            let before = node.get(key).and_then(Value::as_f64);
            let before = before.filter(|_| !is_first);
            let bound = before.map_or(bound, |before| pick(before, bound));
            node.insert(key.to_owned(), json!(bound));
        };
        widen("minimum", lowest, f64::min);
        widen("maximum", highest, f64::max);
        bounded.insert(at);
    }
}

/// Where in the schema an entry of a design stands.
fn locate(schema: &Value, at: String, tree: &Value, steps: &[&str]) -> Option<String> {
    let node = schema.pointer(&at)?;
    if let Some(reference) = node.get("$ref").and_then(Value::as_str) {
        let place = reference.trim_start_matches('#').to_owned();
        return locate(schema, place, tree, steps);
    }
    let Some((step, rest)) = steps.split_first() else {
        return Some(at);
    };
    for key in ["oneOf", "anyOf"] {
        let choices = node.get(key).and_then(Value::as_array);
        let choices = choices.into_iter().flatten().enumerate();
        let fitting = choices.filter(|(_, choice)| fits(choice, tree));
        for (place, _) in fitting {
            let found = locate(schema, format!("{at}/{key}/{place}"), tree, steps);
            if found.is_some() {
                return found;
            }
        }
    }
    let in_list = || tree.get(step.parse::<usize>().ok()?);
    let below = tree.get(step).or_else(in_list).unwrap_or(&Value::Null);
    let step = step.replace('~', "~0").replace('/', "~1");
    let ways = [
        format!("{at}/properties/{step}"),
        format!("{at}/items"),
        format!("{at}/additionalProperties"),
    ];
    let mut ways = ways.into_iter();
    ways.find_map(|way| locate(schema, way, below, rest))
}

/// Whether one of several kinds of values is this one, by the entry that tells.
fn fits(choice: &Value, tree: &Value) -> bool {
    let properties = choice.get("properties").and_then(Value::as_object);
    let mut properties = properties.into_iter().flatten();
    properties.all(|(name, property)| {
        let told = property.get("const");
        told.is_none_or(|told| tree.get(name) == Some(told))
    })
}
