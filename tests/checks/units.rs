//! The units that the user names: on every number and in every sentence of the loop, by walking the whole outcome as a
//! script sees it.

use std::collections::{BTreeMap, BTreeSet};

use polewright::design::{Design, PlantUnits};
use polewright::feedback::{Stimulus, Trajectory};
use polewright::plant::sweep;
use polewright::solve::solve;
use polewright::supply::{Burst, Supply};
use serde_json::Value;

/// Numbers of a plant, a motion and a supply that are in Hz, s, dB of the loop or counts: what they are in does not hang on
/// the plant. A new number is either here or has its unit.
const PLAIN: &[&str] = &[
    // Hz
    "frequency",
    "friction",
    "from",
    "lag",
    "low",
    "high",
    "up_to",
    "range",
    "shared",
    "drift",
    "shaft_modes",
    "free",
    "band",
    "set_aside",
    // s
    "delay",
    "drive_peak_time",
    "peak_error_time",
    "peak_time",
    "rise_time",
    "settling_time",
    "time",
    // of the loop, a fraction or a count
    "behind",
    "converter",
    "converters",
    "damping",
    "divisor",
    "integrators",
    "ka",
    "kind",
    "kp",
    "kv",
    "constant",
    "mode",
    "order",
    "orders",
    "overshoot",
    "path_db",
    "phase_deg",
    "points",
    "rise_db",
    "residuals",
    "rms",
    "sensitivity_db",
];

/// A design whose loop stands on this sweep, told in these units, with all that the region can tell.
fn design(sweep: &str, stages: &str, units: &PlantUnits, stimulus: Stimulus) -> Design {
    let mut design: Design =
        serde_json::from_str(&format!(r#"{{"stages":{stages}}}"#)).expect("a design");
    design.spread.boards = 100;
    design.view.compare = false;
    design.view.propose = false;
    design.view.contributions = false;
    let servo = &mut design.servo;
    servo.sweep = sweep.to_owned();
    servo.units = units.clone();
    servo.motion.stimulus = stimulus;
    servo.motion.saturation = Some(1e-6);
    let mut supply = Supply::default();
    supply.converters[0].burst = Some(Burst::default());
    supply.converters[0].frequency = 5.1e3;
    servo.supply = Some(supply);
    design
}

/// A free body, from 10 Hz on: its sweep leaves friction and a spring open.
fn free_body() -> String {
    let mut text = String::from("Hz, dB, deg\n");
    for k in 0..90 {
        let f = 10f64.powf(1.0 + f64::from(k) / 30.0);
        let decibel = -40.0 * (f / 80.0).log10();
        text.push_str(&format!(
            "{f:.6}, {decibel:.6}, {:.6}\n",
            -180.0 - 360.0 * f * 30e-6
        ));
    }
    text
}

const PID: &str = r#"[{"circuit":"pid-parallel","ask":{"family":"pid","roll_off":2500.0,"values":{"notation":"gains","kp":0.5,"ki":200.0,"kd":0.0006}}}]"#;

fn stimuli() -> Vec<Stimulus> {
    let trajectory = Trajectory {
        rows: vec![(0.0, 0.0), (0.1, 1.0)],
    };
    vec![
        Stimulus::Step,
        Stimulus::Ramp,
        Stimulus::Parabola,
        Stimulus::Disturbance,
        Stimulus::Trajectory { trajectory },
    ]
}

/// The names of all numbers, a list's own name standing for what is in it.
fn names(value: &Value, name: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Number(_) => {
            found.insert(name.to_owned());
        }
        Value::Array(all) => all.iter().for_each(|one| names(one, name, found)),
        Value::Object(all) => all.iter().for_each(|(name, one)| names(one, name, found)),
        _ => {}
    }
}

/// All sentences.
fn sentences(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        // A sensitivity is a ratio.
        Value::String(text) if text.ends_with('.') && !text.starts_with("The sensitivity") => {
            found.insert(text.clone());
        }
        Value::Array(all) => all.iter().for_each(|one| sentences(one, found)),
        Value::Object(all) => all.values().for_each(|one| sentences(one, found)),
        _ => {}
    }
}

/// The first number of a sentence that has neither a unit behind it nor a word before it that counts.
fn bare(sentence: &str, units: &PlantUnits) -> Option<String> {
    const COUNTS: &[&str] = &[
        "Converter",
        "Type",
        "type",
        "type,",
        "mode",
        "modes",
        "and",
        "to",
        "none",
        "least",
    ];
    const KNOWN: &[&str] = &[
        "Hz", "µHz", "mHz", "kHz", "MHz", "dB", "s", "ms", "µs", "ns", "%", "line", "lines", "per",
        "for", "points", "of",
    ];
    let words: Vec<&str> = sentence.split_whitespace().collect();
    let trim = |word: &str| word.trim_matches(|c: char| ",.;:()".contains(c)).to_owned();
    (0..words.len()).find_map(|at| {
        let word = trim(words[at]);
        let number = word.replace('−', "-");
        number.trim_end_matches('°').parse::<f64>().ok()?;
        let after = words.get(at + 1).map(|word| trim(word)).unwrap_or_default();
        let base = after.split('/').next().unwrap_or_default();
        let own = [units.input.as_str(), units.output.as_str()];
        let has_unit =
            number.ends_with('°') || KNOWN.contains(&after.as_str()) || own.contains(&base);
        let counts = at > 0 && COUNTS.contains(&words[at - 1]) && !word.contains('.');
        (!has_unit && !counts).then(|| format!("{word} in: {sentence}"))
    })
}

#[test]
fn no_number_of_the_loop_is_without_its_unit() {
    let units = PlantUnits {
        input: "A".to_owned(),
        output: "rad".to_owned(),
    };
    let (demo, body) = (sweep::DEMO.to_owned(), free_body());
    let (mut told, mut undecided) = (BTreeSet::new(), BTreeSet::new());
    for (sweep, stages) in [(&demo, PID), (&body, "[]")] {
        for stimulus in stimuli() {
            let outcome = solve(&design(sweep, stages, &units, stimulus)).expect("a loop");
            let tree = serde_json::to_value(&outcome).expect("plain data");
            for block in ["/servo/plant", "/motion", "/supply"] {
                let block = tree.pointer(block).expect("a block");
                let own: BTreeMap<String, String> =
                    serde_json::from_value(block["units"].clone()).expect("units");
                assert!(
                    own.values().all(|unit| unit.contains("rad") || unit == "A"),
                    "{own:?}"
                );
                let mut numbers = BTreeSet::new();
                names(block, "", &mut numbers);
                for name in numbers {
                    if PLAIN.contains(&name.as_str()) == own.contains_key(&name) {
                        undecided.insert(name);
                    }
                }
            }
            let budget = tree
                .pointer("/servo/budget/shares")
                .and_then(Value::as_array);
            let plant = budget
                .into_iter()
                .flatten()
                .find(|share| share["label"] == "plant");
            if let Some(plant) = plant {
                assert_eq!(plant["gain_unit"], "dB re 1 rad/A");
            }
            sentences(&tree["servo"], &mut told);
            sentences(&tree["motion"], &mut told);
            sentences(&tree["supply"], &mut told);
        }
    }
    assert!(
        undecided.is_empty(),
        "without a unit, or with one that is not theirs: {undecided:?}"
    );
    let bare: Vec<String> = told
        .iter()
        .filter_map(|sentence| bare(sentence, &units))
        .collect();
    assert!(bare.is_empty(), "{bare:#?}");
    // And sentences of each kind are among them.
    for part in [
        " A after ",
        "leaves ",
        "after a step of 1 rad ",
        "along a ramp of 1 rad/s it ",
        " rad, along a parabola of 1 rad/s² it",
    ] {
        assert!(
            told.iter().any(|sentence| sentence.contains(part)),
            "{part}: {told:#?}"
        );
    }
}

/// Without names the sentences are those of before, and nothing is said to be in a unit that nobody named.
#[test]
fn without_names_no_unit_is_told() {
    let none = PlantUnits {
        input: String::new(),
        output: String::new(),
    };
    let outcome = solve(&design(sweep::DEMO, PID, &none, Stimulus::Step)).expect("a loop");
    let servo = outcome.servo.expect("a loop");
    assert_eq!(servo.plant.units["magnitude_db"], "dB");
    let shares = servo.budget.expect("a crossover").shares;
    assert!(shares.iter().all(|share| share.gain_unit == "dB"));
    let motion = outcome.motion.expect("a model");
    assert!(motion.units.is_empty());
    let answer = motion.answer.expect("a motion");
    let saturates = answer
        .notes
        .iter()
        .find(|note| note.contains("saturates"))
        .expect("a note");
    assert!(
        saturates.contains("beyond the limit of 0.000001:"),
        "{saturates}"
    );
    assert!(
        !motion
            .told
            .iter()
            .any(|sentence| sentence.contains(", and a ramp of"))
    );
}

/// Units are words alone: no number hangs on them.
#[test]
fn units_change_no_number() {
    let strip = |units: &PlantUnits| {
        let outcome = solve(&design(sweep::DEMO, PID, units, Stimulus::Ramp)).expect("a loop");
        let (servo, motion) = (
            outcome.servo.expect("a loop"),
            outcome.motion.expect("a model"),
        );
        let answer = motion.answer.expect("a motion");
        (
            servo.modelled,
            servo.plant.model,
            motion.constants,
            answer.position,
            answer.figures,
        )
    };
    let named = PlantUnits {
        input: "mA".to_owned(),
        output: "µrad".to_owned(),
    };
    assert_eq!(strip(&PlantUnits::default()), strip(&named));
}
