//! Two designs side by side: what is told of them is what their outcomes say.

use polewright::comparison::{Compared, Scale, Side, figures, parts};
use polewright::design::{Design, StageDesign};
use polewright::outcome::Outcome;
use serde_json::json;

use super::designs::{quiet, solved};

fn stage(circuit: &str) -> StageDesign {
    let circuit = polewright::stages::catalogued(circuit).expect("a circuit");
    StageDesign {
        circuit: circuit.id().to_owned(),
        ask: circuit.default_ask(),
        ..StageDesign::default()
    }
}

fn named<'a>(rows: &'a [Compared], name: &str) -> &'a Compared {
    let found = rows.iter().find(|row| row.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}

/// Every figure of every stage of an outcome, by the name that the table gives it.
fn told(outcome: &Outcome, shift: usize) -> Vec<(String, f64)> {
    let stages = outcome.stages.iter().enumerate();
    stages
        .flat_map(|(place, stage)| {
            let name = move |name: &str| format!("{}-{name}", place + 1 + shift);
            let figures = stage.figures.iter();
            figures.map(move |figure| (name(&figure.name), figure.value))
        })
        .collect()
}

#[test]
fn a_path_with_one_stage_more() {
    let copy = quiet(Design::default(), 500);
    let mut now = copy.clone();
    now.stages.insert(0, stage("gain-inverting"));
    let (a, b) = (solved(&now), solved(&copy));
    let (now, copy) = (Side::of(&now, &a), Side::of(&copy, &b));
    let rows = figures(&now, &copy);
    for (name, value) in told(&a, 0) {
        assert_eq!(named(&rows, &name).now, Some(value), "{name}");
    }
    // The notch is the second stage now, and stands beside itself.
    for (name, value) in told(&b, 1) {
        assert_eq!(named(&rows, &name).copy, Some(value), "{name}");
    }
    let of_path = a.spread.as_ref().and_then(|spread| spread.path.as_ref());
    let of_copy = &b.spread.as_ref().expect("boards").share;
    let row = named(&rows, "yield");
    assert_eq!(row.now, of_path.map(|path| path.share.fraction));
    assert_eq!(row.copy, Some(of_copy.fraction));
    assert_eq!(named(&rows, "1-yield").copy, None);
    let counts = named(&rows, "parts");
    let bought = |outcome: &Outcome| outcome.stages.iter().map(|s| s.parts.len()).sum::<usize>();
    assert_eq!(counts.now, Some(bought(&a) as f64));
    assert_eq!(counts.change(), format!("+{}", a.stages[0].parts.len()));

    let differences = parts(&now, &copy);
    assert_eq!(differences.same, b.stages[0].parts.len());
    let names: Vec<&str> = differences
        .rows
        .iter()
        .map(|row| row.name.as_str())
        .collect();
    let own: Vec<&str> = a.stages[0].parts.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, own);
    assert!(differences.rows.iter().all(|row| row.copy.is_none()));
}

#[test]
fn a_pinned_part_and_its_neighbours() {
    let copy = quiet(Design::default(), 500);
    let mut now = copy.clone();
    now.stages[0].pins.insert("C1".to_owned(), 10e-9);
    let (a, b) = (solved(&now), solved(&copy));
    let (now, copy) = (Side::of(&now, &a), Side::of(&copy, &b));
    let differences = parts(&now, &copy);
    let pairs = a.stages[0].parts.iter().zip(&b.stages[0].parts);
    let changed: Vec<_> = pairs.filter(|(a, b)| a.value != b.value).collect();
    assert!(!changed.is_empty());
    assert_eq!(differences.rows.len(), changed.len());
    assert_eq!(differences.same + changed.len(), a.stages[0].parts.len());
    for (row, (own, other)) in differences.rows.iter().zip(changed) {
        assert_eq!(
            (&row.name, row.now, row.copy),
            (&own.name, Some(own.value), Some(other.value))
        );
    }
}

/// Loops: margins, shares of loops and the motion stand in the same table.
#[test]
fn two_loops() {
    let design = json!({
        "stages": [],
        "servo": {
            "model": {"modes": [{"frequency": 27, "damping": 0.05, "residue": 6e4, "slope": 0}], "delay": 6e-6},
            "summing": "adds"
        },
        "spread": {"boards": 300},
        "view": {"compare": false, "blame": false, "propose": false}
    });
    let mut copy = Design::from_tree(design).expect("a design");
    copy.stages = vec![stage("gain-inverting")];
    let mut now = copy.clone();
    now.servo.model.as_mut().expect("a model").modes[0].damping = 0.2;
    let (a, b) = (solved(&now), solved(&copy));
    let (now, copy) = (Side::of(&now, &a), Side::of(&copy, &b));
    let rows = figures(&now, &copy);
    for (side, outcome) in [(0, &a), (1, &b)] {
        let read = |row: &Compared| [row.now, row.copy][side];
        let servo = outcome.servo.as_ref().expect("a loop");
        let told = servo.modelled.as_ref().expect("a model");
        let margin = told.margins.phase_margin().expect("a margin").phase_margin;
        assert_eq!(read(named(&rows, "phase-margin")), Some(margin));
        let kept = servo.spread.as_ref().expect("boards").kept.fraction;
        assert_eq!(read(named(&rows, "loop-yield")), Some(kept));
        let motion = outcome
            .motion
            .as_ref()
            .and_then(|motion| motion.answer.as_ref());
        let overshoot = motion.expect("a motion").figures.overshoot;
        // A number that does not exist is NaN in the table.
        let shown = read(named(&rows, "overshoot")).expect("a row");
        assert_eq!(Some(shown).filter(|v| !v.is_nan()), overshoot);
    }
    let row = named(&rows, "phase-margin");
    let by = row.now.unwrap_or(f64::NAN) - row.copy.unwrap_or(f64::NAN);
    assert!(by.abs() > 1.0, "{by}");
    let sign = if by > 0.0 { "+" } else { "−" };
    assert_eq!(row.change(), format!("{sign}{:.2}°", by.abs()));
    assert_eq!(named(&rows, "loop-yield").scale, Scale::Share);
}

#[test]
fn what_is_not_there_yet_is_not_told() {
    let design = Design::default();
    let nothing = Outcome::default();
    let side = Side::of(&design, &nothing);
    assert_eq!(figures(&side, &side), []);
    assert_eq!(parts(&side, &side), Default::default());
}
