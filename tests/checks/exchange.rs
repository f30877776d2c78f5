//! What page and worker say to each other: nothing is lost on the way, and what the page is told in pieces is the
//! outcome of the design that it gave last.

use num_complex::Complex64;
use std::f64::consts::TAU;

use polewright::design::Design;
use polewright::exchange::{Intake, Kept, NotKept, Order, Report, Session, decode, encode};
use polewright::export::What;
use polewright::outcome::Outcome;
use polewright::plant::shaft::Shaft;
use polewright::plant::sweep::{self, Reading};
use polewright::plant::{KeepWork, SweptOf};
use polewright::solve::solve;
use polewright::stages::CATALOGUE;
use polewright::supply::Supply;
use serde_json::{Value, json};

use super::designs::{quiet, solved};

/// A worker as the page sees it: everything goes through bytes.
pub struct Remote {
    pub session: Session,
    edit: u32,
    /// What the page holds.
    pub told: Outcome,
    settled: Vec<String>,
    refused: Vec<String>,
    pub done: bool,
    other: Vec<Report>,
}

impl Remote {
    pub fn new() -> Remote {
        Remote {
            session: Session::default(),
            edit: 0,
            told: Outcome::default(),
            settled: Vec::new(),
            refused: Vec::new(),
            done: false,
            other: Vec::new(),
        }
    }

    pub fn solve(&mut self, design: &Value) {
        self.edit += 1;
        (self.done, self.settled) = (false, Vec::new());
        let (edit, design) = (self.edit, design.to_string());
        self.give(&Order::Solve { edit, design });
    }

    fn give(&mut self, order: &Order) {
        let order = decode(&encode(order).expect("bytes")).expect("an order");
        let mut reports = Vec::new();
        self.session.take(order, &mut |report| reports.push(report));
        self.hear(reports);
    }

    /// Works for so many slices, or to the end; whether there is more to do.
    pub fn work(&mut self, slices: usize) -> bool {
        for _ in 0..slices {
            let (mut reports, mut turns) = (Vec::new(), 0);
            let mut go_on = || {
                turns += 1;
                turns < 4
            };
            let more = self
                .session
                .advance(&mut go_on, &mut |report| reports.push(report));
            self.hear(reports);
            if !more {
                return false;
            }
        }
        true
    }

    fn hear(&mut self, reports: Vec<Report>) {
        for report in reports {
            let bytes = encode(&report).expect("bytes");
            let report: Report = decode(&bytes).expect("a report");
            match report {
                Report::Found { field, told, .. } => self.told.take(&field, *told),
                Report::Settled { edit, field } if edit == self.edit => self.settled.push(field),
                Report::Refused { edit, errors } if edit == self.edit => {
                    self.refused = errors.into_iter().map(|error| error.path).collect();
                }
                Report::Done { edit } if edit == self.edit => self.done = true,
                Report::Progress { share, .. } => assert!((0.0..=1.0).contains(&share), "{share}"),
                other => self.other.push(other),
            }
        }
    }
}

fn read(design: &Value) -> Design {
    Design::from_tree(design.clone()).expect("a design")
}

fn with(edits: Value) -> Value {
    let mut design = serde_json::to_value(quiet(Design::default(), 150)).expect("JSON");
    let edits = edits.as_object().expect("paths and values");
    for (path, value) in edits {
        *design.pointer_mut(path).expect("a place") = value.clone();
    }
    design
}

fn designs() -> Vec<Value> {
    let mode = json!({ "frequency": 800.0, "damping": 0.02, "residue": 2e7, "slope": 0.0 });
    let model = json!({ "rigid": null, "modes": [mode], "delay": 1e-5, "lag": null });
    vec![
        with(json!({})),
        with(json!({ "/stages/0/ask/q": 3.0, "/view/blame": true, "/view/propose": true })),
        with(json!({ "/servo/sweep": sweep::DEMO })),
        with(
            json!({ "/servo/sweep": sweep::DEMO, "/stages/0/ask/frequency": 5100.0, "/view/compare": true }),
        ),
        with(json!({ "/servo/model": model, "/stages/0/choice": 1 })),
        with(json!({ "/stages": [] , "/servo/sweep": sweep::DEMO })),
        with_noise_limit(),
    ]
}

fn with_noise_limit() -> Value {
    let mut design = with(json!({}));
    design["stages"][0]["noise_limit"] = json!(9e-6);
    design["stages"][0]["impedance"] = json!(4.7e3);
    design
}

#[test]
fn what_is_told_in_pieces_is_the_outcome() {
    let mut remote = Remote::new();
    let designs = designs();
    // Some designs are left again before all is found for them.
    for (at, broken_off) in [
        (0, 7),
        (1, 3),
        (2, 11),
        (0, 0),
        (3, 30),
        (4, 1),
        (5, 9),
        (1, 5),
    ] {
        remote.solve(&designs[at]);
        remote.work(broken_off);
        let last = &designs[(at + broken_off) % designs.len()];
        remote.solve(last);
        remote.work(usize::MAX);
        assert!(remote.done);
        assert_eq!(remote.refused, [""; 0]);
        assert!(remote.settled.iter().any(|field| field == "loops"));
        let (told, whole) = (remote.told.clone().whole(), solved(&read(last)));
        let (told, whole) = (json!(told), json!(whole));
        for (field, value) in whole.as_object().expect("fields") {
            assert_eq!(told[field], *value, "{field} of {last}");
        }
    }
}

#[test]
fn a_refused_design_is_told_and_the_next_one_is_worked_on() {
    let mut remote = Remote::new();
    remote.solve(&with(json!({ "/op_amp/gain_bandwidth": -5.0 })));
    remote.work(usize::MAX);
    assert!(remote.done);
    assert_eq!(remote.refused, ["/op_amp/gain_bandwidth"]);
    assert!(remote.told.stages.is_empty());
    remote.solve(&json!({ "stages": 3 }));
    assert_eq!(remote.refused, ["/stages"]);
    remote.solve(&with(json!({})));
    remote.work(usize::MAX);
    assert!(remote.refused.is_empty() && remote.done);
    assert_eq!(remote.told.stages.len(), 1);
}

#[test]
fn a_board_is_built_again_once_there_are_boards() {
    let mut remote = Remote::new();
    remote.give(&Order::Board(3));
    remote.solve(&with(json!({})));
    remote.work(usize::MAX);
    remote.give(&Order::Board(3));
    remote.give(&Order::Board(150));
    let found = remote.other.iter().map(|report| match report {
        Report::Board { number, board } => (*number, board.as_ref().map(|board| board.number)),
        other => panic!("{other:?}"),
    });
    assert_eq!(
        found.collect::<Vec<_>>(),
        [(3, None), (3, Some(3)), (150, None)]
    );
}

#[test]
fn what_is_exported_belongs_to_the_design() {
    let mut remote = Remote::new();
    let order = Order::Export {
        what: What::Netlist,
        boards: 1,
    };
    remote.give(&Order::Available);
    remote.give(&order);
    let first = with(json!({}));
    remote.solve(&first);
    remote.work(usize::MAX);
    remote.give(&Order::Available);
    remote.give(&order);
    // Nothing of the former design is handed out while the next one is worked on.
    remote.solve(&with(json!({ "/stages/0/ask/q": 3.0 })));
    remote.give(&Order::Available);
    remote.give(&order);
    let netlist = solved(&read(&first)).netlist;
    let told: Vec<(Option<bool>, Option<String>)> = (remote.other.iter())
        .map(|report| match report {
            Report::Available(there) => (Some(there.contains(&What::Netlist)), None),
            Report::Exported { what, file } => {
                assert_eq!(*what, What::Netlist);
                (None, file.as_ref().ok().map(|file| file.text.clone()))
            }
            other => panic!("{other:?}"),
        })
        .collect();
    let available = told.iter().filter_map(|told| told.0);
    assert_eq!(available.collect::<Vec<_>>(), [false, true, false]);
    let files = told.iter().filter(|told| told.0.is_none());
    let files: Vec<Option<String>> = files.map(|told| told.1.clone()).collect();
    assert_eq!(files, [None, netlist, None]);
}

fn texts(remote: &mut Remote, text: u32, bytes: &[u8], wanted: &[u32]) -> Result<Reading, String> {
    texts_of(Intake::Plant, remote, text, bytes, wanted)
}

fn texts_of(
    intake: Intake,
    remote: &mut Remote,
    text: u32,
    bytes: &[u8],
    wanted: &[u32],
) -> Result<Reading, String> {
    remote.give(&Order::Read {
        intake,
        text,
        bytes: bytes.to_vec(),
        columns: None,
        wanted: wanted.to_vec(),
    });
    match remote.other.pop() {
        Some(Report::Read {
            text: read,
            reading,
            ..
        }) if read == text => reading.map(|found| *found),
        other => panic!("{other:?}"),
    }
}

fn kept(remote: &mut Remote, turn: u32, texts: &[u32]) -> Result<Kept, NotKept> {
    kept_of(Intake::Plant, remote, turn, texts, None)
}

fn kept_of(
    intake: Intake,
    remote: &mut Remote,
    turn: u32,
    texts: &[u32],
    of: Option<SweptOf>,
) -> Result<Kept, NotKept> {
    let texts = texts.to_vec();
    remote.give(&Order::Keep {
        intake,
        turn,
        texts,
        of,
    });
    remote.work(usize::MAX);
    match remote.other.pop() {
        Some(Report::Kept {
            turn: kept,
            kept: found,
            ..
        }) if kept == turn => found,
        other => panic!("{other:?}"),
    }
}

#[test]
fn sweeps_are_read_and_kept_as_without_a_worker() {
    let mut remote = Remote::new();
    // Another measurement of the same plant, each row repeated with a thousandth more.
    let again = sweep::DEMO.replace("\t-", "\t-0");
    let direct = |text: &str| sweep::read(text, None);
    for (at, text) in [sweep::DEMO, &again].into_iter().enumerate() {
        let at = at as u32 + 1;
        let reading = texts(&mut remote, at, text.as_bytes(), &[1, 2]).expect("a text");
        let expected = direct(text);
        assert_eq!(reading.notes, expected.notes);
        assert_eq!(reading.preview, expected.preview);
        assert_eq!(
            (reading.rows, reading.bad_rows),
            (expected.rows, expected.bad_rows)
        );
        assert!(
            reading.sweep.points.is_empty(),
            "the rows stay in the worker"
        );
    }
    let merged = sweep::merge(&[&direct(sweep::DEMO), &direct(&again)]);
    let expected = sweep::write(&KeepWork::begin(merged.sweep).into_kept());
    let found = kept(&mut remote, 5, &[1, 2]).expect("both are known");
    assert_eq!((found.sweep, found.notes), (expected, merged.notes));
    let alone = kept(&mut remote, 6, &[1]).expect("it is known");
    assert_eq!(alone.sweep, alone.demo);
    // The second is forgotten, and what is no text is said to be none.
    assert!(texts(&mut remote, 3, b"PK\x03\x04", &[1, 3]).is_err());
    assert_eq!(kept(&mut remote, 7, &[1, 2]), Err(NotKept::Unread));
}

/// Magnitudes alone are taken for the bench, and kept as such; the same text is none of a plant.
#[test]
fn magnitudes_are_kept_for_the_bench_alone() {
    let mut remote = Remote::new();
    let text = b"f (Hz);Gain (dB)\n10;-20\n20;-40\n30;-60\n";
    let found = texts(&mut remote, 1, text, &[1]).expect("a text");
    assert!(
        found
            .error
            .expect("an error")
            .contains("the phase is missing")
    );
    let found = texts_of(Intake::Bench, &mut remote, 1, text, &[1]).expect("a text");
    assert!(found.error.is_none() && !found.columns.has_phase());
    let kept = kept_of(Intake::Bench, &mut remote, 2, &[1], None).expect("it is known");
    let expected = sweep::read_measured(std::str::from_utf8(text).expect("a text"), None).sweep;
    assert_eq!(kept.sweep, sweep::write_magnitudes(&expected));
}

/// The demo's plant with a controller in the path, with advice on each of its modes then, and with that notch too.
fn with_help_put_in() -> Vec<Value> {
    let shape = json!({ "crossover": 420.0, "phase_margin": 50.0 });
    let mut design = read(&with(json!({
        "/servo/sweep": sweep::DEMO, "/servo/shape": shape, "/stages": []
    })));
    let help = solved(&design).help.expect("help");
    help.controller.expect("a controller").put_in(&mut design);
    let mut designs = Vec::new();
    for mode in 0..3 {
        let mut advised = serde_json::to_value(&design).expect("JSON");
        advised["servo"]["advice"] = json!({ "mode": mode });
        designs.push(advised);
    }
    let advised = solved(&read(&designs[1]));
    let notch = advised.help.expect("help").notch.expect("a notch");
    assert!(notch.ask.is_some(), "{:?}", notch.told);
    notch.put_in(&mut design, CATALOGUE[0].id());
    designs.push(serde_json::to_value(&design).expect("JSON"));
    designs
}

/// Whatever a circuit, a loop, its helps and a supply have to tell.
#[test]
fn every_kind_of_outcome_goes_through() {
    let mut designs: Vec<Value> = CATALOGUE
        .iter()
        .map(|circuit| {
            let mut design = with(json!({ "/view/blame": true, "/view/propose": true }));
            design["stages"][0]["circuit"] = json!(circuit.id());
            design["stages"][0]["ask"] = json!(circuit.default_ask());
            design
        })
        .collect();
    let helps = json!({
        "/servo/sweep": sweep::DEMO,
        "/servo/advice": { "mode": 1 },
        "/servo/shape": { "form": "pid" },
        "/servo/whole": { "crossover": 300.0, "phase_margin": 50.0 },
        "/servo/supply": Supply::default(),
        "/servo/shaft": Shaft::default(),
        "/view/compare": true,
    });
    for (path, value) in helps.as_object().expect("paths") {
        designs.push(with(
            json!({ "/servo/sweep": sweep::DEMO, path.as_str(): value }),
        ));
    }
    designs.extend(with_help_put_in());
    let mut refused = 0;
    for design in designs {
        let Ok(read) = Design::from_tree(design.clone()) else {
            refused += 1;
            continue;
        };
        let Ok(outcome) = solve(&read) else {
            refused += 1;
            continue;
        };
        let bytes = encode(&outcome).expect("bytes");
        let again: Outcome = decode(&bytes)
            .unwrap_or_else(|error| panic!("{error}: {}", design["stages"][0]["circuit"]));
        assert_eq!(json!(again), json!(outcome), "{design}");
    }
    assert_eq!(refused, 0, "designs of this test that nothing is found for");
}

/// JSON has no word for what does not exist; between page and worker it stays what it is.
#[test]
fn numbers_keep_every_bit() {
    let mut told = solved(&quiet(Design::default(), 100));
    let figure = &mut told.stages[0].figures[0];
    for value in [f64::NAN, f64::INFINITY, -0.0, 5e-324, 0.1 + 0.2] {
        figure.value = value;
        let again: polewright::outcome::FigureOutcome =
            decode(&encode(figure).expect("bytes")).expect("a figure");
        assert_eq!(again.value.to_bits(), value.to_bits());
    }
    assert!(decode::<Report>(b"nonsense").is_err());
    assert!(decode::<Report>(&[]).is_err());
}

/// A free mass with a mode, which drifts away without its loop: swept as L, T or S, by the textbook's formulas and with the
/// path's own poles and zeros, it is the plant again, whichever way the summing point has it.
#[test]
fn a_plant_that_was_swept_within_its_loop_comes_back() {
    let plant = |f: f64| {
        let s = Complex64::new(0.0, TAU * f);
        let mode = TAU * 2350.0;
        -(3e4 / (s * s) + 2e-4 * mode * mode / (s * s + 0.02 * mode * s + mode * mode))
    };
    let pid = json!({ "family": "pid", "values": {
        "notation": "zeros", "low": 10.0, "high": 60.0, "gain": 12.0, "at": 200.0 } });
    for summing in ["subtracts", "adds"] {
        let mut remote = Remote::new();
        let mut design = with(json!({ "/servo/summing": summing }));
        design["stages"]
            .as_array_mut()
            .expect("stages")
            .push(json!({ "circuit": "pid-parallel", "ask": pid }));
        let ways = [SweptOf::OpenLoop, SweptOf::ClosedLoop, SweptOf::Sensitivity];
        // There is no path yet.
        texts(&mut remote, 9, b"1 2 3\n2 3 4\n3 4 5\n4 5 6\n", &[9]).expect("a text");
        let none = kept_of(Intake::Plant, &mut remote, 9, &[9], Some(ways[0]));
        assert_eq!(none, Err(NotKept::NoPath));
        remote.solve(&design);
        while remote.work(64) {}
        let path = remote.told.transfer.clone().expect("poles and zeros").path;
        let path = |f: f64| {
            let s = Complex64::new(0.0, TAU * f);
            let product = |roots: &[[f64; 2]]| -> Complex64 {
                roots
                    .iter()
                    .map(|root| s - Complex64::new(root[0], root[1]))
                    .product()
            };
            path.gain * product(&path.zeros) / product(&path.poles)
        };
        let sign = if summing == "adds" { -1.0 } else { 1.0 };
        for (at, of) in ways.into_iter().enumerate() {
            let mut text = "Frequency (Hz)\tReal part\tImaginary part\n".to_owned();
            for k in 0..300 {
                let f = 5.0 * 10f64.powf(f64::from(k) / 100.0);
                let open = sign * path(f) * plant(f);
                let seen = match of {
                    SweptOf::OpenLoop => open,
                    SweptOf::ClosedLoop => open / (1.0 + open),
                    SweptOf::Sensitivity => 1.0 / (1.0 + open),
                };
                text += &format!("{f:?}\t{:?}\t{:?}\n", seen.re, seen.im);
            }
            let at = at as u32;
            texts(&mut remote, at, text.as_bytes(), &[at]).expect("a text");
            let kept = kept_of(Intake::Plant, &mut remote, at, &[at], Some(of)).expect("a plant");
            assert!(
                kept.notes
                    .iter()
                    .any(|note| note.contains("worked out from"))
            );
            assert_eq!((kept.points, kept.of), (300, Some(of)));
            let found = sweep::read(&kept.sweep, None).sweep;
            for point in &found.points {
                let off = (point.response / plant(point.frequency) - 1.0).norm();
                // S is read to 16 digits, and 1 − T is as small as 1/L.
                assert!(off < 1e-6, "{of:?} at {}: {off}", point.frequency);
            }
        }
    }
}
