//! Design to outcome: what scripts and links rely on, and what a user is told when an ask cannot be met.

use std::collections::{BTreeMap, BTreeSet};

use polewright::design::{Design, Group, InputError, StageDesign, fields};
use polewright::outcome::Outcome;
use polewright::pick::Search;
use polewright::plant::shaft::Shaft;
use polewright::plant::sweep;
use polewright::solve::{Work, solve};
use polewright::stages::{Ask, Depth, GainAsk, Model, NotchAsk, by_id};
use polewright::supply::Supply;
use polewright::{bands_json, pick_json, solve_json};
use serde_json::{Value, json};

fn design(edit: impl FnOnce(&mut NotchAsk)) -> Design {
    let mut design = Design::default();
    design.spread.boards = 500;
    design.view.compare = false;
    if let Ask::Notch(notch) = &mut design.stages[0].ask {
        edit(notch);
    }
    design
}

fn errors(design: &Design) -> Vec<InputError> {
    solve(design).expect_err("something to complain of")
}

#[test]
fn a_design_survives_json_exactly() {
    let design = design(|notch| {
        notch.frequency = 3_400.000_000_000_1;
        notch.depth = Depth::Decibel(33.3);
    });
    let text = serde_json::to_string(&design).expect("JSON");
    assert_eq!(
        serde_json::from_str::<Design>(&text).expect("a design"),
        design
    );
    assert_eq!(
        serde_json::from_str::<Design>("{}").expect("the demo"),
        Design::default()
    );
}

#[test]
fn an_outcome_survives_json() {
    let outcome = solve(&design(|_| ())).expect("an outcome");
    let text = serde_json::to_string(&outcome).expect("JSON");
    assert_eq!(
        serde_json::from_str::<Outcome>(&text).expect("an outcome"),
        outcome
    );
}

#[test]
fn the_same_design_gives_the_same_outcome() {
    let design = design(|notch| notch.q = 3.0);
    assert_eq!(
        solve(&design).expect("an outcome"),
        solve(&design).expect("an outcome")
    );
}

#[test]
fn scripts_get_sentences_for_nonsense() {
    for text in [
        "",
        "{\"nonsense\": 1}",
        "{\"version\": 9}",
        "{\"shelf\": {\"resistors\": {\"lowest\": -3}}}",
    ] {
        for answer in [solve_json(text), pick_json(text)] {
            let answer: Value = serde_json::from_str(&answer).expect("JSON");
            let message = answer["errors"][0]["message"].as_str().expect("a message");
            assert!(message.ends_with('.'), "{text}: {message}");
        }
    }
}

#[test]
fn every_field_shows_what_it_reads() {
    let design = Design::default();
    let mut seen = 0;
    for (_, field) in fields(&design) {
        let tree = serde_json::to_value(&design).expect("JSON");
        let value = tree.pointer(&field.path).cloned().unwrap_or_default();
        assert_eq!(field.holds(&value), Ok(()), "{}", field.path);
        let shown = field.show(&value);
        let read = field
            .read(&shown)
            .unwrap_or_else(|e| panic!("{}: {e}", field.path));
        // A whole number may come back as a float of the same size.
        assert_eq!(read.as_f64(), value.as_f64(), "{}", field.path);
        let changed = design
            .with(&field.path, read)
            .unwrap_or_else(|e| panic!("{}: {e}", field.path));
        assert_eq!(changed, design, "{}", field.path);
        seen += 1;
    }
    assert!(seen > 30, "{seen}");
}

#[test]
fn an_item_of_a_list_can_be_changed() {
    let mut design = Design::default();
    design.servo.shaft = Some(Shaft::default());
    design.servo.supply = Some(Supply::default());
    for (_, field) in fields(&design) {
        let tree = serde_json::to_value(&design).expect("JSON");
        let value = tree.pointer(&field.path).cloned().unwrap_or_default();
        let same = design.with(&field.path, value);
        assert_eq!(same.as_ref(), Ok(&design), "{}", field.path);
    }
    let changed = design
        .with("/servo/shaft/inertias/1", json!(7e-6))
        .expect("a design");
    let Some(Shaft::Torsion { inertias, .. }) = &changed.servo.shaft else {
        panic!("{changed:?}");
    };
    assert_eq!(inertias[1], 7e-6);
    assert!(design.with("/servo/shaft/inertias/2", json!(1.0)).is_err());
}

#[test]
fn arrow_keys_walk_along_values() {
    let design = Design::default();
    let find = |path: &str| {
        fields(&design)
            .into_iter()
            .find(|(_, f)| f.path == path)
            .map(|(_, f)| f)
            .expect("a field")
    };
    let frequency = find("/stages/0/ask/frequency");
    assert_eq!(frequency.stepped(&json!(2350.0), 1), Some(json!(2400)));
    assert_eq!(frequency.stepped(&json!(2350.0), -1), Some(json!(2200)));
    let decades = find("/view/decades");
    assert_eq!(decades.stepped(&json!(0.3), -1), Some(json!(0.2)));
    assert_eq!(decades.stepped(&json!(0.2), -1), Some(json!(0.2)));
    let pin = find("/stages/0/pins/R1");
    assert_eq!(pin.stepped(&json!(5110.0), 1), Some(json!(5230)));
    let gain = find("/op_amp/gain_db");
    assert_eq!(gain.stepped(&json!(120.0), 1), Some(json!(121)));
}

#[test]
fn a_bad_entry_is_named_with_what_is_accepted() {
    let design = Design::default();
    let (_, field) = fields(&design)
        .into_iter()
        .find(|(g, _)| *g == Group::Ask(0))
        .expect("a field");
    for (text, words) in [
        ("2.3 parsecs", "a frequency such as"),
        ("", "empty"),
        ("3 THz", "from 10 mHz to 10 MHz"),
    ] {
        let sentence = field.read(text).expect_err("a sentence");
        assert!(
            sentence.starts_with("Notch frequency") && sentence.contains(words),
            "{sentence}"
        );
    }
}

#[test]
fn pasted_lists_as_people_write_them() {
    let design = Design::default();
    let (_, field) = fields(&design)
        .into_iter()
        .find(|(_, f)| f.path == "/shelf/capacitors/list")
        .expect("a field");
    let expected = json!([1e-9, 2.2e-9, 3.3e-9, 10e-9]);
    for text in [
        "1n 2n2 3,3n 10n",
        "1n, 2n2, 3.3 nF, 10 nF",
        "1nF;2n2\n3n3\n10 n",
    ] {
        assert_eq!(field.read(text), Ok(expected.clone()), "{text}");
    }
    assert_eq!(field.read(" "), Ok(Value::Null));
    let sentence = field.read("1n 2x2").expect_err("a sentence");
    assert!(
        sentence.contains("2x2") && sentence.contains("capacitance"),
        "{sentence}"
    );
    let shown = field.show(&expected);
    assert_eq!(field.read(&shown), Ok(expected));
}

#[test]
fn a_pinned_part_keeps_its_value() {
    let mut design = design(|_| ());
    design.stages[0].pins.insert("R3".into(), 4321.0);
    let outcome = solve(&design).expect("an outcome");
    let part = outcome.stages[0]
        .parts
        .iter()
        .find(|p| p.name == "R3")
        .expect("R3");
    assert!(part.pinned && part.value == 4321.0);
    assert!(outcome.stages[0].picks[0].miss < 0.3);
    design.stages[0].pins.insert("R9".into(), 1e3);
    assert!(errors(&design)[0].message.contains("R9"));
}

#[test]
fn a_built_board_can_be_typed_in() {
    // Everything pinned: the page shows what these very parts do, however far from the ask.
    let mut design = design(|_| ());
    let built = [
        ("R1", 2.2e3),
        ("C1", 10e-9),
        ("C2", 4.7e-9),
        ("R2", 47e3),
        ("R3", 1e3),
        ("R4", 10e3),
    ];
    design.stages[0].pins = built
        .iter()
        .map(|(name, value)| ((*name).into(), *value))
        .collect();
    let outcome = solve(&design).expect("an outcome");
    let stage = &outcome.stages[0];
    for (name, value) in built {
        let part = stage
            .parts
            .iter()
            .find(|p| p.name == name)
            .expect("the part");
        assert!(part.pinned && part.value == value, "{name}");
    }
    assert_eq!(stage.picks.len(), 1);
    let f0 = 1.0 / (std::f64::consts::TAU * (2.2e3 * 47e3 * 10e-9 * 4.7e-9f64).sqrt());
    let found = stage
        .figures
        .iter()
        .find(|f| f.name == "notch-frequency")
        .expect("the figure")
        .ideal;
    assert!((found / f0 - 1.0).abs() < 0.2, "{found} against {f0}");
}

#[test]
fn taking_a_next_best_pick_changes_the_parts() {
    let mut design = design(|_| ());
    let best = solve(&design).expect("an outcome");
    design.stages[0].choice = 4;
    let other = solve(&design).expect("an outcome");
    assert_eq!(best.stages[0].picks, other.stages[0].picks);
    let values: Vec<f64> = other.stages[0].parts.iter().map(|p| p.value).collect();
    assert_eq!(values, other.stages[0].picks[4].values);
    // Asking for something else goes back to the best.
    let asked = design
        .with("/stages/0/ask/q", json!(3.0))
        .expect("a design");
    assert_eq!(asked.stages[0].choice, 0);
    let looked = design.with("/view/decades", json!(2.0)).expect("a design");
    assert_eq!(looked.stages[0].choice, 4);
}

/// A choice is a place in the list of picks: over all fields there are, what leaves the list as it is leaves the
/// choice, and what changes it goes back to the best. The lists are searched anew for each.
#[test]
fn a_choice_stays_where_its_list_stays() {
    let mut design = design(|_| ());
    design.stages.push(StageDesign {
        circuit: "gain-inverting".to_owned(),
        ask: Ask::Gain(GainAsk::default()),
        ..StageDesign::default()
    });
    design.servo.sweep = sweep::DEMO.to_owned();
    design.stages[0].choice = 3;
    design.stages[1].choice = 2;
    let lists = |design: &Design| -> Vec<Vec<Vec<f64>>> {
        let shelf = &design.shelf;
        let searched = design.stages.iter().map(|stage| {
            let circuit = by_id(&stage.circuit).expect("a circuit");
            let model = Model::new(circuit, &stage.ask, &design.op_amp.op_amp()).expect("a model");
            let mut search = Search::new(
                &model.between(stage.between),
                shelf,
                &BTreeMap::new(),
                stage.prefer,
            );
            let model = Model::new(circuit, &stage.ask, &design.op_amp.op_amp()).expect("a model");
            assert!(
                search
                    .advance(&model.between(stage.between), &mut || true)
                    .is_ready()
            );
            let picks = search.take().picks.into_iter();
            picks.map(|pick| pick.values).collect()
        });
        searched.collect()
    };
    let before = lists(&design);
    let mut rooms = BTreeSet::new();
    let (mut kept, mut left) = (0, 0);
    for (_, field) in fields(&design) {
        let tree = serde_json::to_value(&design).expect("JSON");
        let value = tree.pointer(&field.path).cloned().unwrap_or_default();
        if field.path.contains("/pins/") || field.path.contains("/choice") {
            continue;
        }
        let next = match &value {
            Value::Bool(is) => Some(json!(!is)),
            value => field.stepped(value, 1),
        };
        let Some(changed) = next.and_then(|next| design.with(&field.path, next).ok()) else {
            continue;
        };
        if changed == design {
            continue;
        }
        let after = lists(&changed);
        for (stage, now) in changed.stages.iter().enumerate() {
            let is_kept = now.choice == design.stages[stage].choice;
            assert!(is_kept || now.choice == 0, "{}", field.path);
            if is_kept {
                assert_eq!(after[stage], before[stage], "{}", field.path);
            }
            // Parts and op amps may be others and the list the same; elsewhere nothing is forgotten.
            let asks = ["/stages/", "/shelf/", "/op_amp/"];
            let variations = ["/strays/", "/tempco"];
            let may_forget = asks.iter().any(|room| field.path.starts_with(room))
                && !variations.iter().any(|part| field.path.contains(part));
            assert!(is_kept || may_forget, "{}", field.path);
            (kept, left) = (kept + i32::from(is_kept), left + i32::from(!is_kept));
        }
        rooms.insert(field.path.split('/').nth(1).unwrap_or("").to_owned());
    }
    for room in ["servo", "spread", "view", "shelf", "op_amp", "stages"] {
        assert!(rooms.contains(room), "{room} of {rooms:?}");
    }
    assert!(kept > 50 && left > 10, "{kept} {left}");
}

/// What the user is told, whether as a note beside a poor pick or as an error.
fn told(design: &Design) -> String {
    match solve(design) {
        Ok(outcome) => {
            let notes = &outcome.stages[0].notes;
            notes
                .iter()
                .filter_map(|note| match note {
                    polewright::outcome::Note::Reach(text) => Some(text.clone()),
                    polewright::outcome::Note::Advice(_) => None,
                })
                .collect()
        }
        Err(errors) => errors.iter().map(|e| e.message.clone()).collect(),
    }
}

#[test]
fn asks_out_of_reach_are_explained() {
    let too_sharp = told(&design(|notch| notch.q = 80.0));
    assert!(
        too_sharp.contains("Q 80 is too high") && too_sharp.contains("A Q of 50 or less"),
        "{too_sharp}"
    );
    let too_fast = told(&design(|notch| {
        notch.frequency = 1e6;
        notch.q = 5.0;
    }));
    assert!(
        too_fast.contains("op amp is too slow") && too_fast.contains("would make it possible"),
        "{too_fast}"
    );
    let mut off_the_shelf = design(|notch| notch.frequency = 1.0);
    off_the_shelf.op_amp.gain_bandwidth = 1e9;
    let off_the_shelf = told(&off_the_shelf);
    assert!(
        off_the_shelf.contains("No set from the shelf holds every limit")
            && off_the_shelf.contains("values beyond the shelf's ends, near R1"),
        "{off_the_shelf}"
    );
    assert_eq!(told(&design(|_| ())), "");
}

#[test]
fn fields_that_must_fit_each_other() {
    let mut design = design(|_| ());
    design.shelf.resistors.lowest = 1e6;
    design.shelf.resistors.highest = 1e3;
    assert_eq!(errors(&design)[0].path, "/shelf/resistors/highest");
    let shallow = self::design(|notch| {
        notch.depth = Depth::Decibel(20.0);
        notch.least_depth = 30.0;
    });
    assert_eq!(errors(&shallow)[0].path, "/stages/0/ask/least_depth");
}

// All other circuits and entries: tests/hostile.
proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(60))]
    #[test]
    fn notches_at_random_are_answered(frequency in 0.01f64..1e7, q in 0.1f64..200.0, depth in proptest::option::of(6.0f64..120.0),
                        gbw in 1e3f64..1e12, r in 1.0f64..1e6, span in 0.0f64..6.0, tolerance in 0.0f64..0.8) {
        let mut design = design(|notch| {
            notch.frequency = frequency;
            notch.q = q;
            notch.depth = depth.map_or(Depth::FullNull(()), Depth::Decibel);
            notch.least_depth = 5.0;
        });
        design.spread.boards = 100;
        design.op_amp.gain_bandwidth = gbw;
        design.shelf.resistors.lowest = r;
        design.shelf.resistors.highest = r * 10f64.powf(span);
        design.shelf.resistors.tolerance = tolerance;
        match solve(&design) {
            Ok(outcome) => proptest::prop_assert!(outcome.spread.is_some()),
            Err(errors) => proptest::prop_assert!(errors.iter().all(|e| !e.message.is_empty())),
        }
    }
}

#[test]
fn another_sweep_is_read_before_work_goes_on() {
    let design = |last: &str| {
        let mut design = Design::default();
        let rows = (1..20).map(|k| format!("{}\t{}\t-10\n", 10 * k, -k));
        design.servo.sweep = format!(
            "Frequency (Hz)\tMagnitude (dB)\tPhase (deg)\n{}{last}",
            rows.collect::<String>()
        );
        design
    };
    let sound = design("");
    let mut work = Work::begin(&sound).expect("a sound sweep");
    assert!(work.change(&sound).is_ok());
    let errors = work
        .change(&design("500\tx\t-10\n"))
        .expect_err("a bad row");
    assert_eq!(work.design(), &sound);
    assert_eq!(errors[0].path, "/servo/sweep");
}

/// A wire is a gain of 1: the loop is the plant itself, and the plants alone stray.
#[test]
fn a_path_of_no_stages_is_a_wire() {
    let mut design = Design {
        stages: Vec::new(),
        ..Design::default()
    };
    let outcome = solve(&design).expect("a wire");
    let path = outcome.path.expect("a path");
    assert!(path.sign == 1 && path.buy.is_empty() && path.op_amps == 0);
    assert!(outcome.stages.is_empty() && outcome.spread.is_none());
    assert_eq!(bands_json(r#"{"stages":[]}"#, 10, 10), "null");

    design.servo.sweep = sweep::DEMO.to_owned();
    design.spread.boards = 200;
    let outcome = solve(&design).expect("a plant alone");
    let servo = outcome.servo.expect("a loop");
    let modelled = servo.modelled.expect("a loop");
    let (model, open) = (servo.plant.model.expect("a model"), modelled.open);
    for (f, decibel) in open.frequency.iter().zip(&open.magnitude_db) {
        assert!((20.0 * model.at(*f).norm().log10() - decibel).abs() < 1e-9);
    }
    // A spring under unity feedback stays stable, on every plant.
    assert_eq!(modelled.unstable_poles, Some(0));
    let plants = servo.spread.expect("plants");
    assert_eq!(plants.stable.fraction, 1.0);
    // The name that scripts read what strays by.
    let json = serde_json::to_value(&plants).expect("JSON");
    assert_eq!(json["blame"][0]["label"], plants.contributions[0].label);
    assert!(outcome.motion.is_some());
}
