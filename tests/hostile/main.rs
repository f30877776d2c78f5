//! Nothing panics, hangs or overflows on any design or file: fuzz with fixed seeds. The targets in fuzz/ draw from the
//! same generators and hold the same.
//!
//! `HOSTILE_SECONDS` gives each test so much time instead of its own, and `HOSTILE_SEED` another beginning.

mod designs;
mod documents;
mod entry;
mod export;
mod misfits;
mod numbers;
mod texts;
mod watched;

use std::time::{Duration, Instant};

use polewright::plant::sweep;
use polewright::solve_json;
use serde_json::{Value, json};

use designs::{Manner, answered};
use numbers::Numbers;
use watched::{Ended, watched};

/// A single design may take so long in the test profile on a slow machine that does other things, too.
const LIMIT: Duration = Duration::from_secs(60);

fn set(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// Draws and tries until `seconds` have passed, at least `least` times; each draw has a seed of its own.
fn fuzz(seconds: u64, least: u64, try_out: impl Fn(u64) -> (String, Ended)) {
    let seconds = set("HOSTILE_SECONDS").unwrap_or(seconds);
    let first = set("HOSTILE_SEED").unwrap_or(0);
    let begun = Instant::now();
    let (mut count, mut slowest) = (0, (Duration::ZERO, 0));
    let mut failed = Vec::new();
    while count < least || begun.elapsed() < Duration::from_secs(seconds) {
        let seed = first + count;
        let (shown, ended) = try_out(seed);
        count += 1;
        slowest = slowest.max((ended.took, seed));
        if let Some(wrong) = ended.wrong {
            println!("seed {seed}: {wrong}\n{shown}\n");
            failed.push(format!("seed {seed}: {wrong}"));
        }
    }
    println!(
        "{count} tried; the slowest, seed {}, took {:?}",
        slowest.1, slowest.0
    );
    assert!(
        failed.is_empty(),
        "{} of {count}:\n{}",
        failed.len(),
        failed.join("\n")
    );
}

fn fuzz_designs(seconds: u64, manner: Manner) {
    fuzz(seconds, 10, |seed| {
        let text = designs::draw(&mut Numbers::of_seed(seed), manner).to_string();
        let own = text.clone();
        (text, watched(LIMIT, move || answered(&own)))
    });
}

#[test]
fn no_design_panics() {
    fuzz_designs(6, Manner::Anything);
}

#[test]
fn no_entry_at_its_end_panics() {
    fuzz_designs(6, Manner::Ends);
}

#[test]
fn no_board_of_pinned_parts_panics() {
    fuzz_designs(4, Manner::Pinned);
}

#[test]
fn no_plant_panics() {
    fuzz_designs(6, Manner::Plants);
}

#[test]
fn nothing_that_is_exported_panics() {
    fuzz(6, 10, |seed| {
        let mut numbers = Numbers::of_seed(seed);
        let manner = numbers.one_of(&Manner::ALL);
        let boards = numbers.one_of(&[0, 1, 1000, u32::MAX]);
        let text = designs::draw(&mut numbers, manner).to_string();
        let own = text.clone();
        (text, watched(LIMIT, move || export::exported(&own, boards)))
    });
}

#[test]
fn no_design_file_panics() {
    fuzz(4, 100, |seed| {
        let bytes = documents::draw(&mut Numbers::of_seed(seed));
        let shown = String::from_utf8_lossy(&bytes).into_owned();
        (shown, watched(LIMIT, move || documents::opened(&bytes)))
    });
}

#[test]
fn no_file_panics() {
    fuzz(4, 20, |seed| {
        let bytes = texts::draw(&mut Numbers::of_seed(seed), 30_000);
        let shown: String = String::from_utf8_lossy(&bytes).chars().take(300).collect();
        let ended = watched(LIMIT, move || {
            let kept = texts::taken_in(&bytes)?;
            if kept.is_empty() {
                return Ok(());
            }
            let design = json!({
                "servo": {"sweep": kept},
                "spread": {"boards": 100},
                "view": {"compare": false, "blame": false, "propose": false},
            });
            answered(&design.to_string())
        });
        (shown, ended)
    });
}

/// A file as what was measured of a stage, of the path or of the loop of any design.
#[test]
fn no_measured_board_panics() {
    fuzz(6, 15, |seed| {
        let mut numbers = Numbers::of_seed(seed);
        let bytes = texts::draw(&mut numbers, 6_000);
        let manner = numbers.one_of(&Manner::ALL);
        let mut design = designs::draw(&mut numbers, manner);
        let of = numbers.one_of(&["stage", "path", "open-loop", "closed-loop", "sensitivity"]);
        let shown = design.to_string();
        let ended = watched(LIMIT, move || {
            let kept = texts::taken_in(&bytes)?;
            design["bench"] = json!({ "of": of, "path": kept, "looped": kept });
            for stage in design["stages"].as_array_mut().into_iter().flatten() {
                stage["measured"] = kept.as_str().into();
            }
            answered(&design.to_string())
        });
        (shown, ended)
    });
}

/// Boards whose coefficients are beyond single precision: what is drawn of them are numbers.
#[test]
fn boards_beyond_single_precision() {
    let pid = json!({
        "stages": [{
            "circuit": "pid-parallel",
            "ask": {"family": "pid", "values": {"notation": "gains", "kp": 10, "ki": 1000, "kd": 1000}},
            "pins": {"R4": 5e3, "R5": 5e3}
        }],
        "shelf": {"resistors": {"highest": 100e6}}
    });
    let gyrator = json!({
        "stages": [{"circuit": "gyrator-notch", "pins": {"R1": 0.01, "R3": 100e6}}]
    });
    for mut design in [pid, gyrator] {
        design["spread"] = json!({"boards": 1000});
        design["view"] = json!({"compare": false, "propose": false});
        let text = design.to_string();
        let ended = watched(LIMIT, move || {
            answered(&text)?;
            let answer: Value = serde_json::from_str(&solve_json(&text)).expect("JSON");
            let spread = answer
                .get("spread")
                .ok_or(format!("{}", answer["errors"]))?;
            let drawn = spread["boards"].as_u64();
            (drawn == Some(1000))
                .then_some(())
                .ok_or(format!("{drawn:?} boards"))
        });
        assert_eq!(ended.wrong, None, "{design}");
    }
}

/// Reading takes a time that grows with the file's size alone, whatever it is made of; what is shown of it is bounded.
#[test]
fn no_file_holds_up_the_page() {
    const SIZE: usize = 3_000_000;
    let ends = [
        ("", ""),
        ("1 2 3\n2 3 4\n3 4 5\n", ""),
        ("1,2,3\n2,3,4\n", "\n3,4,5\n"),
    ];
    for (name, shape) in texts::SHAPES {
        for (before, after) in ends {
            let bytes = texts::shaped(before, shape, after, SIZE);
            let begun = Instant::now();
            let read = sweep::decode(&bytes).map(|text| sweep::read(&text, None));
            let took = begun.elapsed();
            println!("{name}, {before:?}: {took:?}");
            assert!(
                took < Duration::from_secs(2),
                "{name}, {before:?}: {took:?}"
            );
            if let Ok(reading) = read {
                let shown = reading.preview.iter().map(Vec::len).max().unwrap_or(0);
                let most = shown.max(reading.names.len());
                assert!(
                    most <= 256 && reading.preview.len() < 20,
                    "{name}: {most} columns"
                );
            }
        }
    }
}

/// Many columns, long headers and lines of many lengths, at their bounds.
#[test]
fn no_table_holds_up_the_page() {
    let row =
        |cell: &str, columns: usize, separator: &str| vec![cell; columns].join(separator) + "\n";
    let header = |columns| row("Phase (deg)", columns, ",").repeat(40);
    let empty = |columns| (row("", columns, ",") + "x" + &row("", columns, ",")).repeat(40);
    for (name, text) in [
        ("256 columns", row("1", 256, ",").repeat(6000)),
        ("257 columns", row("1", 257, ",").repeat(6000)),
        (
            "256 columns and names",
            header(256) + &row("1", 256, ",").repeat(4000),
        ),
        (
            "long names",
            header(2000) + &row("1", 256, ",").repeat(4000),
        ),
        (
            "long names and blanks",
            header(2000) + &row("1", 256, " ").repeat(4000),
        ),
        (
            "empty names",
            empty(3000) + &row("1", 256, ",").repeat(4000),
        ),
        ("every width", (1..1500).map(|n| row("1", n, ",")).collect()),
        (
            "one wide row",
            row("1", 3, ",").repeat(100) + &row("1", 1_000_000, ","),
        ),
        (
            "a wide row first",
            row("1", 1_000_000, ",") + &row("1", 3, ",").repeat(100),
        ),
    ] {
        let begun = Instant::now();
        let reading = sweep::read(&text, None);
        let took = begun.elapsed();
        println!(
            "{name}: {took:?}; {} rows, {:?}",
            reading.rows, reading.error
        );
        assert!(took < Duration::from_secs(4), "{name}: {took:?}");
        let shown = reading.preview.iter().map(Vec::len).max().unwrap_or(0);
        assert!(shown.max(reading.names.len()) <= 256, "{name}: {shown}");
    }
}

#[test]
fn a_file_of_one_line_is_refused_in_a_sentence() {
    for (text, says) in [
        (
            "1 2 3 ".repeat(100),
            "Line 1 has more than 256 numbers; a row may have 256 at most.",
        ),
        (
            "1 2 3 ".repeat(10_000),
            "Line 1 has 60000 characters; a row may have 32768 at most.",
        ),
        (
            "1;2;3;".repeat(500_000),
            "Line 1 has 3000000 characters; a row may have 32768 at most.",
        ),
        (
            "1".repeat(100_000),
            "Line 1 has 100000 characters; a row may have 32768 at most.",
        ),
    ] {
        let error = sweep::read(&text, None).error.expect("an error");
        let accepted = "A sweep is a table with a row for each frequency";
        assert!(
            error.starts_with(says) && error.contains(accepted),
            "{error}"
        );
    }
    // A line that is too long does not cost the others.
    let text = format!("1 2 3\n2 3 4\n{}\n3 4 5\n", "1 2 3 ".repeat(100_000));
    let reading = sweep::read(&text, None);
    assert_eq!(
        (reading.rows, reading.bad_rows, reading.bad[0].line),
        (4, 1, 3)
    );
    assert_eq!(reading.error, None);
}

/// Plants whose parts are as far apart as the entries let them.
#[test]
fn far_plants_are_worked_out_soon() {
    let mode = |frequency: f64, damping: f64, residue: f64, slope: f64| json!({"modes": [{"frequency": frequency, "damping": damping, "residue": residue, "slope": slope}]});
    let mut plants = vec![json!({"rigid": {"integrators": 2, "gain": -1e15, "friction": 1e-9}})];
    for slope in [-1e15, 1e15] {
        for frequency in [1e-6, 1e12] {
            plants.push(mode(frequency, 0.01, 1.0, slope));
        }
    }
    plants.push(mode(1e-6, 1e-5, -1e18, -1e15));
    // As many boards as a design has that says nothing of them.
    for model in plants {
        let design = json!({
            "servo": {"model": model},
            "view": {"compare": false, "blame": false, "propose": false}
        })
        .to_string();
        let own = design.clone();
        let ended = watched(LIMIT, move || answered(&own));
        println!("{:?}: {design}", ended.took);
        assert_eq!(ended.wrong, None, "{design}");
        assert!(
            ended.took < Duration::from_secs(20),
            "{:?}: {design}",
            ended.took
        );
    }
}

/// The fuzz targets' entries, so that they are compiled and called here as well.
#[test]
fn the_fuzz_targets_hold() {
    let bytes: Vec<u8> = (0..=255).cycle().take(5000).collect();
    for entry in [
        entry::design,
        entry::design_text,
        entry::document,
        entry::document_bytes,
        entry::file,
        entry::file_bytes,
    ] {
        for bytes in [&b""[..], b"{}", b"1\t2\t3\n2\t3\t4\n", &bytes] {
            entry::hold(entry(bytes));
        }
    }
}

/// Writes designs of every kind as this version saves them; once a version, before the next one comes.
#[test]
#[ignore = "writes tests/samples"]
fn write_samples() {
    let mut all = Vec::new();
    for seed in 0..400 {
        let manner = [Manner::Ends, Manner::Pinned, Manner::Plants][seed as usize % 3];
        let tree = designs::draw(&mut Numbers::of_seed(seed), manner);
        let design = polewright::design::Design::from_json(&tree.to_string());
        let Ok(design) = design else { continue };
        if polewright::design::check(&design).is_ok() {
            all.push(serde_json::to_value(&design).expect("JSON"));
        }
    }
    all.truncate(24);
    all.push(serde_json::to_value(polewright::design::Design::default()).expect("JSON"));
    println!("{}", all.len());
    let version = polewright::design::VERSION;
    let text: Vec<String> = all.iter().map(Value::to_string).collect();
    std::fs::write(
        format!("tests/samples/version-{version}.jsonl"),
        text.join("\n") + "\n",
    )
    .expect("written");
}
