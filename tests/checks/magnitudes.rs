//! Responses whose phase was not measured: read, kept and looked at on the bench; a plant needs its phase.

use num_complex::Complex64;
use polewright::bench::{Cause, Verdict};
use polewright::design::{Design, Measured};
use polewright::outcome::{BenchOutcome, Outcome};
use polewright::plant::sweep::{
    Columns, Point, Sweep, merge, read, read_measured, write, write_magnitudes,
};
use polewright::plots::Chart;
use polewright::response::log_grid;
use serde::Deserialize;

use super::designs::solved;
use super::measured::{built, demo, measured, plant};
use super::reference;

/// Texts, what their columns are, and frequency and magnitude of the second row.
const TEXTS: [(&str, &str, [f64; 2]); 8] = [
    (
        "Frequency (Hz)\tGain (dB)\n10\t0\n100\t-20\n1000\t-40\n",
        "Column 1: frequency in Hz; column 2: magnitude in dB",
        [100.0, 0.1],
    ),
    (
        "f (kHz);|H| (V/V)\n1;2\n2;0.5\n3;0.25\n",
        "Column 1: frequency in kHz; column 2: magnitude as a ratio",
        [2e3, 0.5],
    ),
    (
        "f;dB\n1,5;-6,5\n2,5;-20\n3,5;-40\n",
        "Column 1: frequency in Hz; column 2: magnitude in dB",
        [2.5, 0.1],
    ),
    (
        "10 -3\n20 -20\n40 -30\n",
        "Column 1: frequency in Hz; column 2: magnitude in dB",
        [20.0, 0.1],
    ),
    (
        "10,1.5\n20,0.7\n40,0.1\n",
        "Column 1: frequency in Hz; column 2: magnitude as a ratio",
        [20.0, 0.7],
    ),
    (
        "1,5 -3,5\n2,5 -40,0\n4,5 -60,5\n",
        "Column 1: frequency in Hz; column 2: magnitude in dB",
        [2.5, 0.01],
    ),
    (
        "Mag (dB),f (Hz),Coherence\n-3,10,0.9\n-20,20,0.9\n-30,40,0.9\n",
        "Column 2: frequency in Hz; column 1: magnitude in dB; column 3: coherence",
        [20.0, 0.1],
    ),
    (
        "# sweep of 3 points\n# f (Hz) Mag (dB)\n10 -3\n20 -20\n40 -30\n",
        "Column 1: frequency in Hz; column 2: magnitude in dB",
        [20.0, 0.1],
    ),
];

#[test]
fn magnitudes_are_read_of_a_board_and_refused_of_a_plant() {
    for (text, columns, [frequency, magnitude]) in TEXTS {
        let reading = read_measured(text, None);
        assert_eq!(reading.error, None, "{text}");
        assert_eq!(reading.columns.to_string(), columns, "{text}");
        assert!(!reading.columns.has_phase() && reading.bad_rows == 0);
        let points = &reading.sweep.points;
        assert_eq!(points.len(), 3, "{text}");
        let off = (points[1].response - magnitude).norm() / magnitude;
        assert!(off < 1e-12 && (points[1].frequency / frequency - 1.0).abs() < 1e-12);
        let is_told = |note: &String| note.starts_with("Phase not measured");
        assert!(reading.notes.iter().any(is_told), "{text}");
        let again = read_measured(text, Some(&reading.columns));
        assert_eq!(again.sweep, reading.sweep, "{text}");
        let plant = read(text, None);
        let error = plant.error.expect("an error");
        assert!(
            error.contains("phase") && error.contains("missing"),
            "{error}"
        );
        assert!(plant.sweep.points.is_empty(), "{text}");
        let told = read(text, Some(&reading.columns));
        let error = told.error.expect("an error");
        assert!(
            error.starts_with("The phase is missing. Without it a loop"),
            "{error}"
        );
        assert!(told.sweep.points.is_empty(), "{text}");
    }
}

/// A number of the row is no phase.
#[test]
fn rows_that_are_numbered() {
    let reading = read_measured("No;f (Hz);Mag (dB)\n1;10;-3\n2;20;-20\n3;40;-30\n", None);
    let columns = "Column 2: frequency in Hz; column 3: magnitude in dB";
    assert_eq!(
        (reading.error, &reading.columns.to_string()[..]),
        (None, columns)
    );
}

#[test]
fn what_is_no_magnitude_is_refused_of_both() {
    for text in [
        "f (Hz);Phase (deg)\n1;2\n2;3\n",
        "f (Hz);Re\n1;2\n2;3\n",
        "f (Hz);Im\n1;2\n2;3\n",
        "Mag (dB);Phase (deg)\n1;2\n2;3\n",
        "1\n2\n3\n",
        "words\n",
        "",
        "f;ratio\n",
    ] {
        for reading in [read_measured(text, None), read(text, None)] {
            assert!(reading.error.is_some(), "{text}: {}", reading.columns);
            assert!(reading.sweep.points.is_empty(), "{text}");
        }
    }
}

#[derive(Deserialize)]
struct Reference {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    text: String,
}

/// A text that has its phase is read as if it were needed.
#[test]
fn a_phase_that_is_there_is_read() {
    for Case { text } in reference::read::<Reference>("sweeps").cases {
        assert_eq!(read_measured(&text, None), read(&text, None));
    }
}

#[test]
fn magnitudes_are_kept_to_the_bit() {
    let mut points: Vec<Point> = (1..40)
        .map(|k| Point::new(f64::from(k) * 0.7, (1.0 / f64::from(k)).into()))
        .collect();
    for is_weighted in [false, true] {
        points[3].weight = if is_weighted { 0.3 } else { 1.0 };
        let sweep = Sweep {
            points: points.clone(),
        };
        let reading = read_measured(&write_magnitudes(&sweep), None);
        assert_eq!((reading.error, &reading.sweep), (None, &sweep));
        assert!(!reading.columns.has_phase());
    }
}

/// One file without its phase takes it from all.
#[test]
fn magnitudes_beside_a_whole_response() {
    let whole = read_measured("f (Hz) re im\n1 3 4\n2 0 2\n", None);
    let bare = read_measured("f (Hz) abs\n1 7\n3 1\n", None);
    let found = merge(&[&whole, &bare]);
    assert!(!found.has_phase && merge(&[&whole, &whole]).has_phase);
    let all: Vec<Complex64> = found.sweep.points.iter().map(|p| p.response).collect();
    assert_eq!(all, [6.0, 2.0, 1.0].map(Complex64::from));
    assert!(
        found
            .notes
            .iter()
            .any(|note| note.contains("magnitudes alone"))
    );
}

fn without_phase(text: &str) -> String {
    write_magnitudes(&read(text, None).sweep)
}

fn bench(design: &Design) -> (BenchOutcome, Outcome) {
    let outcome = solved(design);
    (outcome.bench.clone().expect("the bench"), outcome)
}

#[test]
fn a_stage_by_its_magnitudes() {
    let mut design = demo();
    let outcome = solved(&design);
    let (model, values) = built(&design, &outcome, 0);
    let grid = log_grid(235.0, 23.5e3, 81);
    let place = model.netlist.position("R1").expect("R1");
    for by in [1.0, 1.08] {
        let mut off = values.clone();
        off[place] *= by;
        let own = model.transfer(&off);
        let text = measured(&grid, |f| own.at(f), 3);
        design.stages[0].measured = without_phase(&text);
        let (found, outcome) = bench(&design);
        assert_eq!(found.error, None);
        assert!(!found.has_phase && found.measured.phase_deg.is_empty());
        let last = found.words.last().expect("words");
        assert!(last.starts_with("Phase not measured"), "{last}");
        assert!(Chart::BenchPhase.plot(&design, &outcome).is_none());
        assert!(Chart::BenchMagnitude.plot(&design, &outcome).is_some());
        let report = found.report.expect("a report");
        let named = |cause: &Cause| matches!(cause, Cause::Off(at) if at.part == "R1");
        match by > 1.0 {
            true => assert!(
                report.causes.iter().any(|one| named(&one.cause)),
                "{:?}",
                found.words
            ),
            false => assert_eq!(report.verdict, Verdict::Healthy, "{:?}", found.words),
        }
        // With its phase the same text has both charts.
        design.stages[0].measured = text;
        let (found, outcome) = bench(&design);
        assert!(found.has_phase && found.measured.phase_deg.len() == 81);
        assert!(Chart::BenchPhase.plot(&design, &outcome).is_some());
        assert!(
            !found
                .words
                .iter()
                .any(|words| words.contains("not measured:"))
        );
    }
}

#[test]
fn a_loop_by_its_magnitudes_has_no_margins() {
    let plant = plant();
    let mut design = demo();
    let outcome = solved(&design);
    let (model, values) = built(&design, &outcome, 0);
    let own = model.transfer(&values);
    design.servo.model = Some(plant.clone());
    let open = |f: f64| own.at(f) * plant.at(f);
    let grid = log_grid(5.0, 10e3, 120);
    let text = measured(&grid, open, 7);
    design.bench.of = Measured::OpenLoop;
    design.bench.looped = text.clone();
    assert!(bench(&design).0.margins.is_some());
    design.bench.looped = without_phase(&text);
    let (found, _) = bench(&design);
    assert_eq!((found.error, found.margins), (None, None));
    let last = found.words.last().expect("words");
    assert!(last.ends_with("Margins need the phase."), "{last}");
    let report = found.report.expect("a report");
    assert!(!report.band.is_beyond, "{:?}", found.words);
    for of in [Measured::ClosedLoop, Measured::Sensitivity] {
        design.bench.of = of;
        let (found, outcome) = bench(&design);
        let error = found.error.expect("an error");
        assert!(error.starts_with("The phase is missing"), "{error}");
        assert!(found.report.is_none() && found.margins.is_none());
        assert!(Chart::BenchMagnitude.plot(&design, &outcome).is_none());
    }
    // The plant's own text is refused as before.
    design.servo.model = None;
    design.servo.sweep = without_phase(&write(&Sweep {
        points: grid.iter().map(|f| Point::new(*f, plant.at(*f))).collect(),
    }));
    let errors = polewright::design::check(&design);
    let error = errors.expect_err("an error");
    assert!(
        error
            .iter()
            .any(|one| one.message.contains("phase is missing")),
        "{error:?}"
    );
}

/// Without columns named, and with columns that are given, no text makes a reader panic.
#[test]
fn any_columns_of_a_text_without_phase() {
    let given = read_measured(TEXTS[0].0, None).columns;
    for (text, ..) in TEXTS {
        for frequency in 0..4 {
            let columns = Columns { frequency, ..given };
            let reading = read_measured(text, Some(&columns));
            let is_twice = frequency == 1;
            assert_eq!(is_twice, columns.check().is_err());
            assert!(!is_twice || reading.error.is_some());
        }
    }
}
