//! What does not fit into a design is told at its place, with what is accepted there.

use polewright::design::{
    AdviceAsk, Design, FilterDesign, Network, PartSpread, ShapeAsk, StageDesign, VERSION, WholeAsk,
};
use polewright::feedback::{MotionAsk, Stimulus, Trajectory};
use polewright::plant::shaft::Shaft;
use polewright::plant::{Mode, Model, Rigid};
use polewright::solve_json;
use polewright::stages::{CATALOGUE, Stage};
use polewright::supply::Supply;
use serde_json::{Value, json};

use crate::designs::places;

/// A design with all there is in it, and these stages.
fn full(circuits: &[&dyn Stage]) -> Design {
    let mut design = Design {
        filter: FilterDesign::default(),
        ..Design::default()
    };
    design.stages = circuits
        .iter()
        .map(|circuit| StageDesign {
            circuit: circuit.id().to_owned(),
            ask: circuit.default_ask(),
            ..StageDesign::default()
        })
        .collect();
    design.stages[0].pins.insert("R1".to_owned(), 1e3);
    let variation = PartSpread {
        tolerance: Some(0.01),
        ..PartSpread::default()
    };
    design.stages[0]
        .variations
        .insert("R1".to_owned(), variation);
    design.shelf.resistors.list = Some(vec![1e3, 2e3, 5e3]);
    design.spread.networks = vec![Network::default()];
    let servo = &mut design.servo;
    servo.model = Some(Model {
        rigid: Some(Rigid {
            friction: Some(3.0),
            ..Rigid::new(2, 1e3)
        }),
        modes: vec![Mode {
            frequency: 300.0,
            damping: 0.01,
            residue: 1e4,
            slope: 1.0,
        }],
        lag: Some(1e4),
        delay: 1e-5,
    });
    servo.motion = MotionAsk {
        stimulus: Stimulus::Trajectory {
            trajectory: Trajectory {
                rows: vec![(0.0, 0.0), (1.0, 1.0), (2.0, 1.0)],
            },
        },
        saturation: Some(10.0),
        ..MotionAsk::default()
    };
    servo.advice = Some(AdviceAsk::default());
    servo.shape = Some(ShapeAsk::default());
    servo.whole = Some(WholeAsk::default());
    servo.shaft = Some(Shaft::default());
    servo.supply = Some(Supply::default());
    design
}

fn with(tree: &Value, place: &str, value: Value) -> Value {
    let mut tree = tree.clone();
    *tree.pointer_mut(place).expect("a place of this tree") = value;
    tree
}

/// Every number of a design in turn becomes something else.
#[test]
fn every_wrong_type_is_told_at_its_place() {
    let (mut told, mut optional) = (0, Vec::new());
    let parts = CATALOGUE.chunks(5).enumerate();
    let trees =
        parts.map(|(part, circuits)| (part, serde_json::to_value(full(circuits)).expect("JSON")));
    let of = |(part, tree): (usize, Value)| {
        let of_tree = places(&tree).into_iter();
        // What is no stage's is the same in each.
        let own = of_tree.filter(move |place| part == 0 || place.starts_with("/stages/"));
        own.map(move |place| (place, tree.clone()))
            .collect::<Vec<_>>()
    };
    for (place, tree) in trees.flat_map(of) {
        if !tree.pointer(&place).is_some_and(Value::is_number) {
            continue;
        }
        for value in [
            json!(null),
            json!("three"),
            json!([1]),
            json!({"a": 1}),
            json!(true),
        ] {
            match Design::from_tree(with(&tree, &place, value.clone())) {
                Ok(_) => {
                    assert!(value.is_null(), "{place} takes {value}");
                    optional.push(place.clone());
                }
                Err(errors) => {
                    let [error] = &errors[..] else {
                        panic!("{place}, {value}: {errors:?}");
                    };
                    assert_eq!(error.path, place, "{value}: {error}");
                    assert!(
                        error.message.contains("accepted: ") && error.message.ends_with('.'),
                        "{place}: {error}"
                    );
                    told += 1;
                }
            }
        }
    }
    println!("{told} told; optional: {optional:?}");
    assert!(told > 1500 && optional.len() < 20, "{told}, {optional:?}");
}

#[test]
fn the_ranges_of_a_field_are_told() {
    for (design, path, says) in [
        (
            json!({"stages": [{"circuit": "mfb-notch", "ask": {"family": "notch", "frequency": null}}]}),
            "/stages/0/ask/frequency",
            "Notch frequency is null; accepted: a number from 10 mHz to 10 MHz.",
        ),
        (
            json!({"spread": {"boards": -3}}),
            "/spread/boards",
            "Boards is -3; accepted: a whole number from 100 to 1000000.",
        ),
        (
            json!({"shelf": {"resistors": {"list": [1, "2"]}}}),
            "/shelf/resistors/list/1",
            "“/shelf/resistors/list/1” is \"2\"; accepted: a number.",
        ),
        (
            json!({"servo": {"motion": {"stimulus": {"kind": "leap"}}}}),
            "/servo/motion/stimulus/kind",
            "",
        ),
        (json!({"nonsense": 1}), "/nonsense", ""),
        (
            json!({"stages": null}),
            "/stages",
            "“/stages” is null; accepted: a list.",
        ),
        (
            json!([]),
            "",
            "This is not a design: it is a list, and an object is expected.",
        ),
        (
            json!(3),
            "",
            "This is not a design: it is 3, and an object is expected.",
        ),
    ] {
        let answer: Value = serde_json::from_str(&solve_json(&design.to_string())).expect("JSON");
        let error = &answer["errors"][0];
        assert_eq!(error["path"], path, "{error}");
        let message = error["message"].as_str().expect("a message");
        assert!(message.ends_with('.'), "{message}");
        assert!(says.is_empty() || message == says, "{message}");
    }
}

/// Several at once, each told once.
#[test]
fn all_misfits_are_told() {
    let design = json!({
        "stages": [{"ask": {"family": "notch", "frequency": null, "q": null}}],
        "view": {"decades": "two", "stage": -1},
        "op_amp": {"gain_db": []}
    });
    let errors = Design::from_tree(design).expect_err("misfits");
    let mut paths: Vec<&str> = errors.iter().map(|error| error.path.as_str()).collect();
    paths.sort_unstable();
    assert_eq!(
        paths,
        [
            "/op_amp/gain_db",
            "/stages/0/ask/frequency",
            "/stages/0/ask/q",
            "/view/decades",
            "/view/stage"
        ]
    );
}

/// A tree of a great many wrong values is refused as soon as a small one.
#[test]
fn large_misfits_are_told_soon() {
    let begun = std::time::Instant::now();
    for tree in [
        json!({"stages": vec![json!(null); 100_000]}),
        json!({"stages": vec![json!({}); 5_000], "view": null}),
        json!({"shelf": {"resistors": {"list": vec![json!("x"); 100_000]}}}),
        json!({"servo": {"sweep": "1\t2\t3\n".repeat(100_000), "fit": 3}}),
    ] {
        assert!(Design::from_tree(tree).is_err());
    }
    // Well in each entry, and far too many of them.
    for (design, path) in [
        (json!({"stages": vec![json!({}); 20_000]}), "/stages"),
        (
            json!({"spread": {"networks": vec![json!({}); 20_000]}}),
            "/spread/networks",
        ),
        (
            json!({"servo": {"model": {"modes":
                vec![json!({"frequency": 1, "damping": 1, "residue": 1}); 20_000]}}}),
            "/servo/model/modes",
        ),
    ] {
        let answer: Value = serde_json::from_str(&solve_json(&design.to_string())).expect("JSON");
        assert_eq!(answer["errors"][0]["path"], path, "{}", answer["errors"]);
    }
    let took = begun.elapsed();
    assert!(took.as_secs() < 20, "{took:?}");
}

/// Designs that are well in themselves and of which nothing can be shown.
#[test]
fn what_cannot_be_shown_is_told() {
    let this = format!("reads version {VERSION}");
    for (design, path, says) in [
        (json!({"stages": []}), "/stages", "holds no stage"),
        (
            json!({"version": VERSION + 1}),
            "/version",
            "from a later version of this program",
        ),
        (
            json!({"version": VERSION + 1, "new": {}}),
            "/version",
            "from a later version of this program",
        ),
        (
            json!({"version": 1e300}),
            "/version",
            "from a later version of this program",
        ),
        (json!({"version": 0}), "/version", this.as_str()),
        (
            json!({"version": "1"}),
            "/version",
            "accepted: a whole number",
        ),
        (
            json!({"view": {"stage": 1}}),
            "/view/stage",
            "no stage 1 to show",
        ),
        (
            json!({"view": {"stage": u64::MAX}}),
            "/view/stage",
            "to show",
        ),
        (
            json!({"view": {"stage": usize::MAX}, "stages": []}),
            "/view/stage",
            "to show",
        ),
    ] {
        let answer: Value = serde_json::from_str(&solve_json(&design.to_string())).expect("JSON");
        let error = &answer["errors"][0];
        // An empty path with nothing to show is told first.
        let is_path = error["path"] == path || design["stages"] == json!([]);
        let message = error["message"].as_str().expect("a message");
        assert!(is_path && message.ends_with('.'), "{error}");
        assert!(
            message.contains(says) || design["stages"] == json!([]),
            "{message}"
        );
    }
    let picked = polewright::pick_json(r#"{"stages": []}"#);
    assert!(picked.contains("holds no stage"), "{picked}");
}
