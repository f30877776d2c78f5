//! What leaves the page: the netlist against a reader and a nodal solver in Python, poles and zeros against the
//! responses, SciPy and python-control, tables against the outcome that they are made of.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::design::{Design, StageDesign};
use polewright::export::{What, available, export, parts_list};
use polewright::outcome::{Outcome, ZeroPoleGain};
use polewright::parts::DataSheet;
use polewright::plant::shaft::Shaft;
use polewright::plant::{Mode, Model as Plant, Rigid, sweep};
use polewright::quantity::{Unit, parse};
use polewright::response::{Transfer, log_grid};
use polewright::stages::{CATALOGUE, by_id};
use polewright::supply::{Burst, Supply};
use serde_json::{Value, json};

use super::designs::{quiet, solved};
use super::measured;

const AGAIN: &str = "WRITE_EXPORTS=1 cargo test --test checks export writes the files anew, then run \
                     tests/reference/netlist_text.py and transfer.py";

/// A path of these circuits with their own asks.
fn path_of(circuits: &[&str]) -> Design {
    let stage = |id: &&str| StageDesign {
        circuit: (*id).to_owned(),
        ask: by_id(id).expect("a circuit").default_ask(),
        ..StageDesign::default()
    };
    Design {
        stages: circuits.iter().map(stage).collect(),
        ..quiet(Design::default(), 100)
    }
}

/// All circuits, and paths of three: a source and a load, several op amps, a further input.
fn designs() -> Vec<(String, Design)> {
    let alone = CATALOGUE
        .iter()
        .map(|stage| (stage.id().to_owned(), path_of(&[stage.id()])));
    let paths = [
        ["passive-twin-t", "sallen-key-low-pass", "sum-inverting"],
        ["state-variable-notch", "difference", "pid-parallel"],
    ];
    let paths = paths.iter().map(|path| (path.join(" > "), path_of(path)));
    let mut all: Vec<_> = alone.chain(paths).collect();
    let mut stiff = path_of(&[CATALOGUE[0].id()]);
    stiff.op_amp.output_resistance = 0.0;
    all.push(("no output resistance".to_owned(), stiff));
    let mut mixed = path_of(&["state-variable-notch", "mfb-notch"]);
    let named = |name: &str, gain_bandwidth| DataSheet {
        name: name.to_owned(),
        gain_bandwidth,
        ..DataSheet::default()
    };
    mixed.op_amps = vec![named("fast", 50e6), named("slow", 3e6)];
    mixed.stages[0].op_amps = [("U2".to_owned(), "slow".to_owned())].into();
    mixed.stages[1].op_amp = Some("fast".to_owned());
    all.push(("several op amps".to_owned(), mixed));
    all
}

/// The stage's response with its parts, worked out by the program's own expansion.
fn transfer_of(design: &Design, outcome: &Outcome, place: usize) -> Transfer {
    let (model, values) = measured::built(design, outcome, place);
    model.transfer(&values)
}

fn path_at(design: &Design, outcome: &Outcome, frequency: f64) -> Complex64 {
    let stages = 0..outcome.stages.len();
    stages
        .map(|place| transfer_of(design, outcome, place).at(frequency))
        .product()
}

fn file(name: &str) -> String {
    format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// What Python reads is what the program writes now, numbers to 1e-9.
fn kept(name: &str, now: &Value) -> Value {
    let path = file(name);
    if std::env::var_os("WRITE_EXPORTS").is_some() {
        let text = serde_json::to_string_pretty(now).expect("JSON");
        std::fs::write(&path, text + "\n").expect("written");
    }
    let text = std::fs::read_to_string(&path).unwrap_or_default();
    let kept: Value = serde_json::from_str(&text).unwrap_or_default();
    assert!(is_same(now, &kept), "{name}: {AGAIN}");
    kept
}

fn is_same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| is_same(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len()
                && a.iter()
                    .all(|(key, a)| b.get(key).is_some_and(|b| is_same(a, b)))
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("a number"), b.as_f64().expect("a number"));
            (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
        }
        (Value::String(a), Value::String(b)) => {
            let (mut left, mut right) = (a.split(' '), b.split(' '));
            a == b
                || loop {
                    match (left.next(), right.next()) {
                        (None, None) => break true,
                        (Some(a), Some(b)) if a == b => {}
                        (Some(a), Some(b)) => match (a.parse::<f64>(), b.parse::<f64>()) {
                            (Ok(a), Ok(b)) if (a / b - 1.0).abs() < 1e-9 => {}
                            _ => break false,
                        },
                        _ => break false,
                    }
                }
        }
        _ => a == b,
    }
}

#[test]
fn netlists_answer_in_python_as_here() {
    let mut now = Vec::new();
    let mut outcomes = Vec::new();
    for (name, design) in designs() {
        let outcome = solved(&design);
        let text = outcome.netlist.clone().expect("a netlist");
        let curves = outcome.stages[0].curves.as_ref().expect("curves");
        let few = curves.frequency.len() / 24;
        let frequencies: Vec<f64> = curves.frequency.iter().step_by(few).copied().collect();
        let lines: Vec<&str> = text.lines().collect();
        now.push(json!({ "name": name, "frequencies": frequencies, "lines": lines }));
        outcomes.push((name, design, outcome, frequencies, few));
    }
    kept("netlist_texts.json", &json!(now));
    let read: Value = super::reference::read("netlist_text");
    let read = read["texts"].as_array().expect("texts");
    assert_eq!(read.len(), outcomes.len(), "{AGAIN}");
    let mut worst = 0.0f64;
    for ((name, design, outcome, frequencies, few), read) in outcomes.iter().zip(read) {
        assert_eq!(read["name"], json!(name), "{AGAIN}");
        let told: Vec<[f64; 2]> =
            serde_json::from_value(read["response"].clone()).expect("a response");
        assert_eq!(told.len(), frequencies.len(), "{name}: {AGAIN}");
        let told: Vec<Complex64> = told.iter().map(|z| Complex64::new(z[0], z[1])).collect();
        let size = told.iter().fold(0.0f64, |size, z| size.max(z.norm()));
        for (z, &f) in told.iter().zip(frequencies) {
            let miss = (path_at(design, outcome, f) - z).norm() / z.norm().max(1e-6 * size);
            worst = worst.max(miss);
            assert!(miss < 1e-6, "{name} at {f} Hz: {miss:e}");
        }
        // What is drawn is the same response.
        let curves = match outcome.path.as_ref().and_then(|path| path.curves.as_ref()) {
            Some(whole) => whole,
            None => outcome.stages[0].curves.as_ref().expect("curves"),
        };
        if outcome.stages.len() == 1 {
            for (z, level) in told
                .iter()
                .zip(curves.real.magnitude_db.iter().step_by(*few))
            {
                let miss = 20.0 * z.norm().log10() - level;
                assert!(
                    miss.abs() < 1e-5 || z.norm() < 1e-6 * size,
                    "{name}: {miss} dB"
                );
            }
        }
        let ends = [
            curves.frequency[0],
            curves.frequency[curves.frequency.len() - 1],
        ];
        let swept = [1, 2].map(|k| read["sweep"][k].as_f64().expect("an end"));
        for (end, swept) in ends.iter().zip(swept) {
            assert!(
                (end / swept - 1.0).abs() < 1e-9,
                "{name}: {end} and {swept}"
            );
        }
    }
    println!("{} texts, worst {worst:e}", outcomes.len());
}

#[test]
fn designators_and_given_parts_are_told() {
    let (_, design) = &designs()[CATALOGUE.len()];
    let outcome = solved(design);
    let text = outcome.netlist.as_ref().expect("a netlist");
    let mut places = 0;
    for (stage, told) in outcome.stages.iter().enumerate() {
        let given = told.given.iter().map(|part| (&part.name, part.value, true));
        let bought = told
            .parts
            .iter()
            .map(|part| (&part.name, part.value, false));
        for (name, value, is_given) in given.chain(bought) {
            let designator = format!("{}{}_{}", &name[..1], stage + 1, &name[1..]);
            let begins = format!("{designator} ");
            let mut lines = text.lines().filter(|line| line.starts_with(&begins));
            let line = lines.next().expect("an element");
            assert_eq!(lines.next(), None);
            let written: f64 = line
                .rsplit(' ')
                .next()
                .expect("a value")
                .parse()
                .expect("a number");
            assert_eq!(written, value, "{line}");
            let told = format!("* {designator} stands for what the stage works between");
            assert_eq!(text.contains(&told), is_given, "{line}");
            places += 1;
        }
    }
    assert!(places > 12, "{places}");
    // JSON has it too; a wire has none.
    assert_eq!(json!(outcome)["netlist"], json!(text));
    let mut wire = path_of(&[]);
    wire.servo.model = Some(Plant::default());
    assert_eq!(solved(&wire).netlist, None);
}

fn at(told: &ZeroPoleGain, frequency: f64) -> Complex64 {
    let s = Complex64::new(0.0, TAU * frequency);
    let product = |roots: &[[f64; 2]]| -> Complex64 {
        roots
            .iter()
            .map(|root| s - Complex64::new(root[0], root[1]))
            .product()
    };
    told.gain * product(&told.zeros) / product(&told.poles)
        * Complex64::cis(-TAU * frequency * told.delay)
}

/// Those that are not real stand beside their conjugates, to the bit.
fn is_paired(roots: &[[f64; 2]]) -> bool {
    let mut roots = roots.iter();
    while let Some(root) = roots.next() {
        if root[1] != 0.0 && roots.next() != Some(&[root[0], -root[1]]) {
            return false;
        }
    }
    true
}

fn plant() -> Plant {
    let mode = |frequency: f64, residue: f64, slope: f64| Mode {
        frequency,
        damping: 0.012,
        residue,
        slope,
    };
    Plant {
        rigid: Some(Rigid {
            friction: Some(3.0),
            ..Rigid::new(2, 3e4)
        }),
        modes: vec![
            mode(800.0, 2e4, 0.0),
            mode(2350.0, -9e3, 0.5),
            mode(5100.0, 4e4, 0.0),
        ],
        lag: Some(20e3),
        delay: 12e-6,
    }
}

#[test]
fn poles_and_zeros_make_the_responses_again() {
    let mut worst = 0.0f64;
    for (name, mut design) in designs() {
        design.servo.model = Some(plant());
        let outcome = solved(&design);
        let told = outcome.transfer.as_ref().expect("transfer functions");
        assert_eq!(told.stages.len(), outcome.stages.len());
        for one in told
            .stages
            .iter()
            .chain([&told.path])
            .chain(&told.plant)
            .chain(&told.open_loop)
        {
            assert!(
                is_paired(&one.zeros) && is_paired(&one.poles),
                "{name}: {one:?}"
            );
        }
        let curves = outcome.stages[0].curves.as_ref().expect("curves");
        let (plant, open) = (
            told.plant.as_ref().expect("a plant"),
            told.open_loop.as_ref().expect("a loop"),
        );
        let size = |one: &ZeroPoleGain| {
            curves
                .frequency
                .iter()
                .map(|&f| at(one, f).norm())
                .fold(0.0, f64::max)
        };
        let path_size = size(&told.path);
        for &f in &curves.frequency {
            let mut product = Complex64::from(1.0);
            for (place, one) in told.stages.iter().enumerate() {
                let own = transfer_of(&design, &outcome, place).at(f);
                let miss = (at(one, f) - own).norm() / size(one);
                worst = worst.max(miss);
                assert!(miss < 1e-9, "{name}, stage {place} at {f} Hz: {miss:e}");
                product *= own;
            }
            let wanted = design.servo.model.as_ref().expect("a model").at(f);
            assert!((at(plant, f) / wanted - 1.0).norm() < 1e-9, "{name}");
            assert!(
                (at(&told.path, f) - product).norm() < 1e-9 * path_size,
                "{name}"
            );
            let l = product * wanted;
            assert!(
                (at(open, f) - l).norm() < 1e-8 * path_size * wanted.norm(),
                "{name}"
            );
        }
        // The loop as it is drawn, with the summing point's sign.
        design.servo.summing = polewright::design::Summing::Adds;
        let adds = solved(&design);
        let told = adds.transfer.as_ref().expect("transfer functions");
        let drawn = &adds
            .servo
            .as_ref()
            .expect("a loop")
            .modelled
            .as_ref()
            .expect("a model");
        let points = drawn
            .open
            .frequency
            .iter()
            .zip(drawn.real.iter().zip(&drawn.imaginary));
        let open = told.open_loop.as_ref().expect("a loop");
        for (f, (re, im)) in points.step_by(7) {
            let l = Complex64::new(*re, *im);
            assert!(
                (at(open, *f) - l).norm() < 1e-7 * l.norm().max(1e-6),
                "{name} at {f} Hz"
            );
        }
    }
    println!("worst {worst:e}");
}

/// The README's lines run on this outcome in tests/reference/transfer.py.
#[test]
fn python_reads_the_numbers_as_the_readme_says() {
    let mut design = path_of(&["mfb-notch", "pid-parallel"]);
    design.servo.model = Some(plant());
    let outcome = solved(&design);
    kept(
        "transfer_outcome.json",
        &json!({ "transfer": outcome.transfer }),
    );
    let read: Value = super::reference::read("transfer");
    let numbers = |name: &str| -> Vec<[f64; 2]> {
        serde_json::from_value(read[name].clone()).expect("complex numbers")
    };
    let frequencies: Vec<f64> =
        serde_json::from_value(read["frequencies"].clone()).expect("frequencies");
    assert!(frequencies.len() > 100);
    let model = design.servo.model.as_ref().expect("a model");
    let (path, plant, open) = (numbers("path"), numbers("plant"), numbers("loop"));
    for (k, &f) in frequencies.iter().enumerate() {
        let (own, own_plant) = (path_at(&design, &outcome, f), model.at(f));
        for (read, own) in [
            (path[k], own),
            (plant[k], own_plant),
            (open[k], own * own_plant),
        ] {
            let miss = (Complex64::new(read[0], read[1]) / own - 1.0).norm();
            assert!(miss < 1e-6, "{f} Hz: {miss:e}");
        }
    }
}

/// A table as a reader of RFC 4180 sees it.
struct Read {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Read {
    fn of(text: &str) -> Read {
        assert!(text.ends_with("\r\n") && !text.replace("\r\n", "").contains(['\r', '\n']));
        // Own code: what is quoted may hold commas and doubled quotes.
        let line = |line: &str| {
            let (mut cells, mut quoted) = (vec![String::new()], false);
            let mut letters = line.chars().peekable();
            while let Some(letter) = letters.next() {
                let last = cells.last_mut().expect("a cell");
                match letter {
                    '"' if quoted && letters.peek() == Some(&'"') => {
                        last.push('"');
                        letters.next();
                    }
                    '"' => quoted = !quoted,
                    ',' if !quoted => cells.push(String::new()),
                    letter => last.push(letter),
                }
            }
            assert!(!quoted, "{line}");
            cells
        };
        let mut lines = text.split_terminator("\r\n").map(line);
        let header: Vec<String> = lines.next().expect("a header");
        let rows: Vec<Vec<String>> = lines.collect();
        assert!(rows.iter().all(|row| row.len() == header.len()));
        Read { header, rows }
    }

    fn column(&self, name: &str) -> Vec<&str> {
        let at = self.header.iter().position(|known| known == name);
        let at = at.unwrap_or_else(|| panic!("no {name} in {:?}", self.header));
        self.rows.iter().map(|row| row[at].as_str()).collect()
    }

    /// Numbers without empty cells.
    fn numbers(&self, name: &str) -> Vec<f64> {
        let cells = self
            .column(name)
            .into_iter()
            .filter(|cell| !cell.is_empty());
        cells.map(|cell| cell.parse().expect("a number")).collect()
    }

    fn holds(&self, name: &str, values: &[f64]) {
        let finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
        assert_eq!(self.numbers(name), finite, "{name}");
    }
}

/// With all that an outcome may have: a path, a plant that was fitted, its loop, motion, worst case, supply.
pub fn full() -> Design {
    let mut design = path_of(&["mfb-notch", "pid-parallel"]);
    design.servo.sweep = sweep::DEMO.to_owned();
    let mut supply = Supply::default();
    supply.converters[0].burst = Some(Burst {
        from: 20.0,
        to: 4e3,
    });
    design.servo.supply = Some(supply);
    design.servo.shaft = Some(Shaft::default());
    design.servo.units.output = "µm, \"x\"".to_owned();
    design.view.contributions = true;
    let outcome = solved(&design);
    let (model, values) = measured::built(&design, &outcome, 0);
    let transfer = model.transfer(&values);
    let frequencies = log_grid(300.0, 20e3, 41);
    design.stages[0].measured = measured::measured(&frequencies, |f| transfer.at(f), 1);
    design
}

#[test]
fn tables_are_the_outcome() {
    let design = full();
    let outcome = solved(&design);
    let there = available(&outcome);
    let read = |what: What| {
        assert!(there.contains(&what), "{what:?}");
        let file = export(&design, &outcome, what, 1).expect("a table");
        assert!(file.name.ends_with(".csv") && file.media_type.starts_with("text/csv"));
        Read::of(&file.text)
    };
    for (what, curves) in [
        (
            What::Curves,
            outcome.stages[0].curves.as_ref().expect("curves"),
        ),
        (
            What::PathCurves,
            outcome
                .path
                .as_ref()
                .expect("a path")
                .curves
                .as_ref()
                .expect("curves"),
        ),
    ] {
        let table = read(what);
        table.holds("Frequency (Hz)", &curves.frequency);
        table.holds("Time (s)", &curves.time);
        for (kind, curve) in [
            ("requirement", &curves.ask),
            ("ideal op amp", &curves.ideal),
            ("real op amp", &curves.real),
        ] {
            table.holds(&format!("Level, {kind} (dB)"), &curve.magnitude_db);
            table.holds(&format!("Phase, {kind} (deg)"), &curve.phase_deg);
            table.holds(&format!("Group delay, {kind} (s)"), &curve.delay);
            table.holds(&format!("Step response, {kind} (1)"), &curve.step);
        }
    }
    let spread = outcome.spread.as_ref().expect("a spread");
    let path = spread.path.as_ref().expect("a path");
    for (what, level, phase, slow) in [
        (
            What::Band,
            &spread.magnitude_db,
            &spread.phase_deg,
            &spread.slow,
        ),
        (
            What::PathBand,
            &path.magnitude_db,
            &path.phase_deg,
            &path.slow,
        ),
    ] {
        let table = read(what);
        table.holds("Frequency (Hz)", &spread.frequency);
        table.holds("Level, 5 % quantile (dB)", &level.q05);
        table.holds("Level, most (dB)", &level.high);
        table.holds("Phase, median (deg)", &phase.median);
        let slow = slow.as_ref().expect("slow bands");
        table.holds("Group delay, least (s)", &slow.delay.low);
        table.holds("Step response, 95 % quantile (1)", &slow.step.q95);
    }
    let table = read(What::Histograms);
    let counts: Vec<f64> = spread
        .figures
        .iter()
        .flat_map(|figure| {
            figure
                .histogram
                .counts
                .iter()
                .map(|count| f64::from(*count))
        })
        .collect();
    table.holds("Boards", &counts);
    let boards = table.numbers("Boards").iter().sum::<f64>();
    let unreadable: u32 = spread.figures.iter().map(|figure| figure.unreadable).sum();
    assert_eq!(
        boards + f64::from(unreadable),
        f64::from(spread.boards) * spread.figures.len() as f64
    );
    let table = read(What::Boards);
    let good = table
        .column("Within all limits")
        .into_iter()
        .map(|cell| cell == "yes");
    assert_eq!(good.collect::<Vec<_>>(), spread.sample.good);
    for (at, values) in spread.sample.values.iter().enumerate() {
        table.holds(&table.header[at + 2].clone(), values);
    }
    let table = read(What::Figures);
    let figures = outcome.stages.iter().flat_map(|stage| &stage.figures);
    table.holds(
        "Real op amp",
        &figures.map(|figure| figure.value).collect::<Vec<_>>(),
    );
    let medians: Vec<f64> = spread
        .figures
        .iter()
        .map(|figure| figure.quantiles[1])
        .collect();
    table.holds("Median", &medians);
    loop_tables(&outcome, &read);
    for what in there {
        assert!(
            export(&design, &outcome, what, 3).is_ok_and(|file| !file.text.is_empty()),
            "{what:?}"
        );
    }
}

fn loop_tables(outcome: &Outcome, read: &dyn Fn(What) -> Read) {
    let servo = outcome.servo.as_ref().expect("a loop");
    let (measured, modelled) = (servo.measured.as_ref(), servo.modelled.as_ref());
    let both = [measured.expect("a sweep"), modelled.expect("a model")];
    let table = read(What::Loop);
    table.holds(
        "Frequency (Hz)",
        &both.map(|told| told.open.frequency.clone()).concat(),
    );
    table.holds("Real part", &both.map(|told| told.real.clone()).concat());
    table.holds(
        "Sensitivity (dB)",
        &both.map(|told| told.sensitivity_db.clone()).concat(),
    );
    let table = read(What::Margins);
    let rows = table
        .rows
        .iter()
        .filter(|row| row[0] == "model" && row[1] == "phase margin");
    let margins: Vec<f64> = rows.map(|row| row[3].parse().expect("a number")).collect();
    let crossings = &both[1].margins.gain_crossings;
    assert!(!margins.is_empty());
    assert_eq!(
        margins,
        crossings
            .iter()
            .map(|one| one.phase_margin)
            .collect::<Vec<_>>()
    );
    let table = read(What::Plant);
    let shapes = [&servo.plant.measured, &servo.plant.modelled]
        .map(|shape| shape.as_ref().expect("a curve"));
    let name = &servo.plant.units["magnitude_db"];
    table.holds(
        &format!("Level ({name})"),
        &shapes.map(|shape| shape.magnitude_db.clone()).concat(),
    );
    let fitted = servo.plant.fitted.as_ref().expect("a fit");
    let table = read(What::Fit);
    let of = |name: String, column: &str| {
        let row = table
            .column("Number")
            .iter()
            .position(|known| *known == name)
            .expect("a row");
        table.column(column)[row].parse::<f64>().expect("a number")
    };
    for (at, mode) in fitted.model.modes.iter().enumerate() {
        assert_eq!(
            of(format!("mode {} frequency", at + 1), "Value"),
            mode.frequency
        );
        let uncertainty = fitted.uncertainties.modes[at].damping;
        assert_eq!(
            of(
                format!("mode {} damping ratio", at + 1),
                "Standard uncertainty"
            ),
            uncertainty
        );
    }
    let spread = servo.spread.as_ref().expect("boards");
    let medians: Vec<f64> = spread
        .figures
        .iter()
        .map(|figure| figure.quantiles[1])
        .collect();
    read(What::LoopFigures).holds("Median", &medians);
    let shares: Vec<f64> = spread.contributions.iter().map(|one| one.share).collect();
    read(What::LoopContributions).holds("Share", &shares);
    let counts = spread
        .figures
        .iter()
        .flat_map(|figure| figure.histogram.counts.clone());
    read(What::LoopHistograms).holds("Boards", &counts.map(f64::from).collect::<Vec<_>>());
    let worst = spread.worst.as_ref().expect("a worst board");
    read(What::WorstLoop).holds("Imaginary part", &worst.imaginary);
    let told = outcome.motion.as_ref().expect("a motion");
    let motion = told.answer.as_ref().expect("it moves");
    let table = read(What::Motion);
    table.holds("Time (s)", &motion.time);
    table.holds(
        &format!("Position ({})", told.units["position"]),
        &motion.position,
    );
    let table = read(What::MotionFigures);
    assert!(table.column("Figure").contains(&"peak error"));
    let noise = outcome.noise.as_ref().expect("noise");
    let own = &noise.stages[outcome.shown];
    let table = read(What::Noise);
    table.holds("Frequency (Hz)", &own.density.frequency);
    table.holds("Output (V/sqrt(Hz))", &own.density.output);
    table.holds("Resistors alone (V/sqrt(Hz))", &own.thermal);
    let largest = &own.contributors[0];
    let name = format!("{}, {} (V/sqrt(Hz))", largest.part, largest.words());
    table.holds(&name, &largest.density);
    let table = read(What::PathNoise);
    table.holds("Output (V/sqrt(Hz))", &noise.path.density.output);
    table.holds("Stage 2 (V/sqrt(Hz))", &noise.path.stages[1].density);
    let rms: Vec<f64> = noise
        .stages
        .iter()
        .flat_map(|stage| {
            let each = stage.contributors.iter().map(|one| one.rms);
            each.chain([stage.total.rms])
        })
        .collect();
    read(What::NoiseContributors).holds("At the stage's output (V rms)", &rms);
    let supply = outcome.supply.as_ref().expect("a supply");
    let through: Vec<f64> = supply
        .hits
        .iter()
        .map(|hit| hit.passage.through_db)
        .collect();
    assert!(through.len() > 2);
    let table = read(What::SupplyLines);
    assert!(table.column("Line").contains(&"burst"));
    table.holds(
        &format!("Through ({})", supply.units["through_db"]),
        &through,
    );
    let corners = outcome.corners.as_ref().expect("a worst case");
    let parts: usize = corners
        .figures
        .iter()
        .map(|f| f.lowest.parts.len() + f.highest.parts.len())
        .sum();
    assert_eq!(read(What::WorstCase).rows.len(), parts);
    let told = outcome.contributions.as_ref().expect("contributions");
    let all = told.figures.iter().chain([&told.misses]);
    let shares: Vec<f64> = all.flat_map(|figure| figure.shares.clone()).collect();
    read(What::Contributions).holds("Share", &shares);
    let widths = outcome.spread.iter().flat_map(|spread| &spread.figures);
    let widths: Vec<f64> = widths
        .filter_map(|figure| figure.widths.as_ref())
        .flat_map(|curve| curve.share.clone())
        .collect();
    read(What::Widths).holds("Yield", &widths);
}

#[test]
fn the_parts_list_buys_every_part() {
    let design = full();
    let outcome = solved(&design);
    let rows = parts_list(&design, &outcome, 25).expect("a list");
    let mut places = 0;
    for row in &rows {
        assert_eq!(row.quantity, 25 * row.designators.len() as u64);
        let Some(value) = row.value else {
            assert_eq!(
                (row.kind, row.designators.len()),
                (
                    "op amp",
                    outcome.path.as_ref().expect("a path").op_amps as usize
                )
            );
            assert!(
                row.demands.contains("gain-bandwidth of 10 MHz"),
                "{}",
                row.demands
            );
            continue;
        };
        assert_eq!(parse(&row.code, row.unit), Ok(value));
        for designator in &row.designators {
            let (stage, name) = designator.split_once('·').expect("a stage");
            let stage: usize = stage.parse().expect("a number");
            let mut parts = outcome.stages[stage - 1].parts.iter();
            let part = parts.find(|part| part.name == name).expect("a part");
            assert_eq!(
                (part.value, part.unit, Some(part.tolerance)),
                (value, row.unit, row.tolerance)
            );
            places += 1;
        }
        let expected = if row.unit == Unit::Ohm { 'F' } else { 'J' };
        assert_eq!(row.tolerance_letter, Some(expected));
    }
    let all: usize = outcome.stages.iter().map(|stage| stage.parts.len()).sum();
    assert_eq!(places, all);
    // No value twice.
    let keys: Vec<_> = rows
        .iter()
        .map(|row| (row.kind, row.value.map(f64::to_bits)))
        .collect();
    assert!(
        keys.iter()
            .enumerate()
            .all(|(at, key)| !keys[..at].contains(key))
    );
    // What is written is what was found.
    let file = export(&design, &outcome, What::Parts, 25).expect("a file");
    let table = Read::of(&file.text);
    table.holds(
        "Value",
        &rows.iter().filter_map(|row| row.value).collect::<Vec<_>>(),
    );
    table.holds(
        "Quantity for 25 boards",
        &rows
            .iter()
            .map(|row| row.quantity as f64)
            .collect::<Vec<_>>(),
    );
    table.holds(
        "Substitute",
        &rows
            .iter()
            .filter_map(|row| Some(row.substitute?.value))
            .collect::<Vec<_>>(),
    );
}

/// With every part fixed at its value and one row's at its substitute, the pick deviates as the list says.
#[test]
fn substitutes_do_what_is_said_of_them() {
    let (mut checked, mut from_picks) = (0, 0);
    for circuit in [
        "mfb-notch",
        "sallen-key-low-pass",
        "pid-parallel",
        "mfb-band-pass",
    ] {
        let design = path_of(&[circuit]);
        let outcome = solved(&design);
        let stage = &outcome.stages[0];
        for row in parts_list(&design, &outcome, 1).expect("a list") {
            let Some(substitute) = row.substitute else {
                assert_eq!(row.kind, "op amp");
                continue;
            };
            let mut fixed = design.clone();
            for part in &stage.parts {
                let value = match row.designators.contains(&part.name) {
                    true => substitute.value,
                    false => part.value,
                };
                fixed.stages[0].pins.insert(part.name.clone(), value);
            }
            let told = solved(&fixed);
            let miss = told.stages[0].picks[0].miss;
            assert!(
                (substitute.miss / miss - 1.0).abs() < 1e-6,
                "{circuit}: {} and {miss}",
                substitute.miss
            );
            let same = |values: &[f64]| told.stages[0].picks[0].values == values;
            from_picks += usize::from(stage.picks.iter().any(|pick| same(&pick.values)));
            checked += 1;
        }
    }
    assert!(
        checked > 15 && from_picks > 0,
        "{checked}, {from_picks} of them picks"
    );
}

#[test]
fn what_is_not_there_is_said_in_a_sentence() {
    let design = path_of(&["mfb-notch"]);
    let outcome = solved(&design);
    let there = available(&outcome);
    for what in What::ALL {
        let taken = export(&design, &outcome, what, 1);
        assert_eq!(taken.is_ok(), there.contains(&what), "{what:?}");
        if let Err(error) = taken {
            assert!(error.ends_with('.'), "{error}");
        }
        let name = serde_json::to_value(what).expect("a name");
        assert_eq!(
            serde_json::from_value::<What>(name).expect("the same"),
            what
        );
        assert!(!what.label().is_empty());
        let is_of_one = What::ALL.iter().filter(|other| other.name() == what.name());
        assert_eq!(is_of_one.count(), 1, "{what:?}");
        // Nothing is there before anything is found.
        assert!(export(&design, &Outcome::default(), what, 1).is_err());
    }
    assert!(!there.contains(&What::Loop) && there.contains(&What::Netlist));
    let none = export(&design, &outcome, What::Parts, 0).expect_err("no boards");
    assert!(none.contains("1 or more"), "{none}");
    let other = path_of(&["sum-inverting"]);
    assert!(export(&other, &outcome, What::Parts, 1).is_err());
}
