//! Sweeps read from texts against what the script that wrote them says (tests/reference/sweeps.py), and
//! every form against every other; random tables, whose writer knows the numbers, are read rightly or not at all.

use std::f64::consts::TAU;
use std::fmt::Write;

use num_complex::Complex64;
use polewright::plant::sweep::{
    Columns, DEMO, FrequencyUnit, MagnitudeUnit, PhaseUnit, Point, Response, Separator, Sweep,
    WeightColumn, WeightKind, decode, merge, read, read_measured, write,
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::asks::Random;
use crate::reference;

#[derive(Deserialize)]
struct Reference {
    cases: Vec<Case>,
    files: Vec<File>,
}

/// A text in bytes, as Python's codecs write them.
#[derive(Deserialize)]
struct File {
    codec: String,
    hex: String,
    text: String,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    text: String,
    frequencies: Vec<f64>,
    response: Vec<Complex64>,
    bad_lines: Vec<usize>,
    weights: Option<Vec<f64>>,
}

#[test]
fn texts_stand_for_what_their_writer_says() {
    for case in reference::read::<Reference>("sweeps").cases {
        let guessed = read(&case.text, None);
        let told = read(&case.text, Some(&guessed.columns));
        assert_eq!(guessed.sweep, told.sweep, "{}", case.name);
        for reading in [guessed, told] {
            let name = format!("{}: {}, {:?}", case.name, reading.columns, reading.notes);
            assert_eq!(reading.error, None, "{name}");
            let bad: Vec<usize> = reading.bad.iter().map(|bad| bad.line).collect();
            assert_eq!(bad, case.bad_lines, "{name}");
            let points = &reading.sweep.points;
            assert_eq!(points.len(), case.frequencies.len(), "{name}");
            for ((point, f), z) in points.iter().zip(&case.frequencies).zip(&case.response) {
                assert!((point.frequency / f - 1.0).abs() < 1e-12, "{name}");
                assert!((point.response / z - 1.0).norm() < 1e-12, "{name} at {f}");
            }
            let ones = vec![1.0; points.len()];
            for (point, weight) in points.iter().zip(case.weights.as_ref().unwrap_or(&ones)) {
                let doubled = point.weight.fract() == 0.0 && case.weights.is_none();
                assert!(
                    doubled || (point.weight / weight - 1.0).abs() < 1e-9,
                    "{name} {point:?} {weight}"
                );
            }
        }
    }
}

/// Two modes and a delay: small and large magnitudes, phases over more than a turn.
fn plant() -> Sweep {
    let mode = |s: Complex64, f: f64, damping: f64| {
        let omega = TAU * f;
        omega * omega / (s * s + 2.0 * damping * omega * s + omega * omega)
    };
    let points = (0..120).map(|k| {
        let frequency = 5.37 * 1.07f64.powi(k);
        let s = Complex64::new(0.0, TAU * frequency);
        Point::new(
            frequency,
            (mode(s, 27.0, 0.08) + 3e-5 * mode(s, 2350.0, 0.006)) * 2.0 * (s * -6e-6).exp(),
        )
    });
    Sweep {
        points: points.collect(),
    }
}

const FREQUENCIES: [(FrequencyUnit, &str); 3] = [
    (FrequencyUnit::Hertz, "Hz"),
    (FrequencyUnit::Kilohertz, "kHz"),
    (FrequencyUnit::RadiansPerSecond, "rad/s"),
];

/// Forms of the response: dB or ratio, degrees or radians, or two parts.
fn forms() -> Vec<(Response, [&'static str; 2])> {
    let mut forms = vec![(
        Response::Cartesian {
            real: 1,
            imaginary: 2,
        },
        ["Re", "Im"],
    )];
    for (magnitude_unit, magnitude_name) in [
        (MagnitudeUnit::Decibels, "Mag[dB]"),
        (MagnitudeUnit::Ratio, "Gain (V/V)"),
    ] {
        for (phase_unit, phase_name) in [
            (PhaseUnit::Degrees, "Phase_deg"),
            (PhaseUnit::Radians, "Phase (rad)"),
        ] {
            let form = Response::Polar {
                magnitude: 1,
                magnitude_unit,
                phase: 2,
                phase_unit,
            };
            forms.push((form, [magnitude_name, phase_name]));
        }
    }
    forms
}

/// The sweep in the given form, every number as short as its bits allow.
fn text(sweep: &Sweep, columns: &Columns, names: Option<[&str; 3]>, mark: &str) -> String {
    let mut text = String::new();
    if let Some(names) = names {
        writeln!(text, "{}", names.join(mark)).expect("a text");
    }
    for point in &sweep.points {
        let z = point.response;
        let pair = match columns.response {
            Response::Cartesian { .. } | Response::Complex { .. } => [z.re, z.im],
            Response::Magnitude { .. } => panic!("no plant"),
            Response::Polar {
                magnitude_unit,
                phase_unit,
                ..
            } => [
                match magnitude_unit {
                    MagnitudeUnit::Decibels => 20.0 * z.norm().log10(),
                    MagnitudeUnit::Ratio => z.norm(),
                },
                match phase_unit {
                    PhaseUnit::Degrees => z.arg().to_degrees(),
                    PhaseUnit::Radians => z.arg(),
                },
            ],
        };
        let frequency = point.frequency / columns.frequency_unit.hertz();
        let cells = [frequency, pair[0], pair[1]].map(|value| {
            let cell = format!("{value:?}");
            if columns.decimal_comma {
                cell.replace('.', ",")
            } else {
                cell
            }
        });
        writeln!(text, "{}", cells.join(mark)).expect("a text");
    }
    text
}

#[test]
fn every_form_is_read_as_it_was_written() {
    let sweep = plant();
    let separators = [
        (Separator::Tab, "\t", true),
        (Separator::Semicolon, ";", true),
        (Separator::Bar, " | ", true),
        (Separator::Comma, ",", false),
        (Separator::Blanks, "  ", true),
        (Separator::Blanks, ", ", true),
    ];
    for (separator, mark, may_comma) in separators {
        for decimal_comma in [false, true] {
            // Without decimal commas the last form is commas.
            let separator = if mark == ", " && !decimal_comma {
                Separator::Comma
            } else {
                separator
            };
            if decimal_comma && !may_comma {
                continue;
            }
            for (frequency_unit, unit) in FREQUENCIES {
                for (response, [first, second]) in forms() {
                    for header in [true, false] {
                        let columns = Columns {
                            separator,
                            decimal_comma,
                            header: header.into(),
                            frequency: 0,
                            frequency_unit,
                            response,
                            weight: None,
                        };
                        let name = format!("Frequency ({unit})");
                        let names = header.then_some([name.as_str(), first, second]);
                        let text = text(&sweep, &columns, names, mark);
                        let guessed = read(&text, None);
                        let mut known = columns;
                        if !header {
                            // Nothing in such a text tells the frequency's unit.
                            known.frequency_unit = FrequencyUnit::Hertz;
                            assert!(!guessed.notes.is_empty());
                        }
                        assert_eq!(
                            guessed.columns,
                            known,
                            "{:?}\n{}",
                            guessed.notes,
                            &text[..200]
                        );
                        let reading = read(&text, Some(&columns));
                        assert_eq!((reading.error, reading.bad_rows), (None, 0), "{columns}");
                        assert_eq!(reading.sweep.points.len(), sweep.points.len());
                        for (a, b) in reading.sweep.points.iter().zip(&sweep.points) {
                            assert!((a.frequency / b.frequency - 1.0).abs() < 1e-14, "{columns}");
                            assert!((a.response / b.response - 1.0).norm() < 1e-13, "{columns}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn the_demo_is_a_sweep_without_a_word() {
    let reading = read(DEMO, None);
    assert_eq!((reading.error, reading.bad_rows), (None, 0));
    assert_eq!(reading.notes, [""; 0]);
    let first = reading.sweep.points[0];
    assert!((first.response.norm() - 1.0).abs() < 0.1, "{first:?}");
}

/// Text that looks like a table more often than chance would have it.
fn nearly_a_table() -> impl Strategy<Value = String> {
    let cell = prop_oneof![
        4 => "-?[0-9]{1,4}([.,][0-9]{1,3})?",
        1 => "[0-9]\\.[0-9]{2}[eEdD][+-]?[0-9]{1,3}",
        1 => prop::sample::select(vec!["1+2j", "(1-2i)", "-j", "1,000.5", "1.000,5", "1'000", "1\u{a0}000", "000.5", "0.97",]).prop_map(str::to_owned),
        1 => prop::sample::select(vec!["NaN", "-inf", "", "\"", "\"1\"", "Hz", "f (kHz)", "°", "−3", "(dB"]).prop_map(str::to_owned),
    ];
    let mark = prop::sample::select(vec!["\t", ";", ",", ", ", " ", "|", " | "]);
    let end = prop::sample::select(vec![
        "\n", "\r\n", "\r", "\n\n", "\n#", "\n;", "\n\"", "\u{feff}",
    ]);
    (
        prop::collection::vec(prop::collection::vec(cell, 0..6), 0..12),
        mark,
        end,
    )
        .prop_map(|(rows, mark, end)| {
            let lines: Vec<String> = rows.iter().map(|row| row.join(mark)).collect();
            lines.join(end)
        })
}

fn columns() -> impl Strategy<Value = Columns> {
    use Separator::*;
    let separator = prop::sample::select(vec![Tab, Semicolon, Bar, Comma, Blanks]);
    let column = || prop_oneof![9 => 0usize..5, 1 => Just(usize::MAX)];
    let unit = (0usize..3).prop_map(|k| FREQUENCIES[k].0);
    (
        separator,
        any::<bool>(),
        column(),
        [column(), column(), column()],
        unit,
        (0usize..6, 0usize..3, 0usize..5),
    )
        .prop_map(
            |(
                separator,
                decimal_comma,
                header,
                [frequency, one, two],
                frequency_unit,
                (form, kind, column),
            )| {
                let kinds = [None, Some(WeightKind::Coherence), Some(WeightKind::Weight)];
                Columns {
                    separator,
                    decimal_comma,
                    header,
                    frequency,
                    frequency_unit,
                    weight: kinds[kind].map(|kind| WeightColumn { column, kind }),
                    response: match forms().get(form).map(|form| form.0) {
                        None | Some(Response::Complex { .. } | Response::Magnitude { .. }) => {
                            Response::Complex { column: one }
                        }
                        Some(Response::Cartesian { .. }) => Response::Cartesian {
                            real: one,
                            imaginary: two,
                        },
                        Some(Response::Polar {
                            magnitude_unit,
                            phase_unit,
                            ..
                        }) => Response::Polar {
                            magnitude: one,
                            magnitude_unit,
                            phase: two,
                            phase_unit,
                        },
                    },
                }
            },
        )
}

/// A sweep of any bits that are read at all, weighted or not.
fn any_sweep() -> impl Strategy<Value = Sweep> {
    (
        unweighted(),
        prop::collection::vec(-99.0f64..99.0, 60),
        any::<bool>(),
    )
        .prop_map(|(mut sweep, weights, is_weighted)| {
            for (point, e) in sweep.points.iter_mut().zip(weights) {
                if is_weighted {
                    point.weight = 10f64.powf(e);
                }
            }
            sweep
        })
}

fn unweighted() -> impl Strategy<Value = Sweep> {
    let size =
        || (-99.0f64..99.0, -1.0f64..1.0).prop_map(|(e, sign)| sign.signum() * 10f64.powf(e));
    let point = ((-6.0f64..12.0).prop_map(|e| 10f64.powf(e)), size(), size());
    prop::collection::vec(point, 1..60).prop_map(|mut points| {
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.dedup_by_key(|point| point.0);
        let point = |(frequency, re, im)| Point::new(frequency, Complex64::new(re, im));
        Sweep {
            points: points.into_iter().map(point).collect(),
        }
    })
}

fn sound(sweep: &Sweep) {
    assert!(sweep.points.is_sorted_by(|a, b| a.frequency < b.frequency));
    assert!(
        sweep
            .points
            .iter()
            .all(|p| p.frequency > 0.0 && p.response.is_finite())
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_panics(text in prop_oneof![".{0,200}", nearly_a_table()], columns in columns()) {
        for how in [None, Some(&columns)] {
            let reading = read(&text, how);
            sound(&reading.sweep);
            prop_assert_eq!(reading.error.is_some(), reading.sweep.points.is_empty());
            prop_assert!(reading.bad.len() <= reading.bad_rows && reading.bad_rows <= reading.rows);
        }
    }

    #[test]
    fn what_is_written_is_read_to_the_bit(sweep in any_sweep()) {
        let reading = read(&write(&sweep), None);
        prop_assert_eq!(reading.error, None);
        let is_weighted = sweep.points.iter().any(|point| point.weight != 1.0);
        let notes = if is_weighted { vec!["Column 4 is how much each row counts.".to_owned()] } else { Vec::new() };
        prop_assert_eq!(reading.notes, notes);
        prop_assert_eq!(reading.sweep, sweep);
    }

    #[test]
    fn thinning_keeps_order_and_ends(sweep in any_sweep(), max in 0usize..70) {
        let thin = sweep.thinned(max);
        sound(&thin);
        prop_assert_eq!(thin.points.len(), sweep.points.len().min(max.max(1)));
        if sweep.points.len() <= max {
            prop_assert_eq!(thin, sweep);
        }
    }
}

/// Every table of two rows of up to three of these cells, where columns may be missing: in "0, 1+2j; 1+2j, 0" no column is
/// all real and none all complex.
#[test]
fn no_small_table_panics() {
    const CELLS: [&str; 6] = ["0", "3.5", "1+2j", "phase", "", "Re"];
    for width in 1..=3usize {
        for table in 0..CELLS.len().pow(2 * width as u32) {
            let cell = |at: usize| CELLS[table / CELLS.len().pow(at as u32) % CELLS.len()];
            let row = |first: usize| {
                (first..first + width)
                    .map(cell)
                    .collect::<Vec<_>>()
                    .join("\t")
            };
            let text = format!("{}\n{}", row(0), row(width));
            let reading = read(&text, None);
            sound(&reading.sweep);
            assert_eq!(
                reading.error.is_some(),
                reading.sweep.points.is_empty(),
                "{text:?}"
            );
        }
    }
}

/// Digits as an instrument prints them: the decimal sign, and a mark between thousands.
fn dressed(plain: &str, decimal: char, mark: Option<char>) -> String {
    let end = plain.find(['.', 'e']).unwrap_or(plain.len());
    let (whole, rest) = plain.split_at(end);
    let digits = whole.trim_start_matches('-');
    let mut found = whole[..whole.len() - digits.len()].to_owned();
    for (at, digit) in digits.chars().enumerate() {
        found.extend(mark.filter(|_| at > 0 && (digits.len() - at) % 3 == 0));
        found.push(digit);
    }
    found + &rest.replace('.', &decimal.to_string())
}

/// Tables of random numbers, precision, decimal sign, marks and separators, with names and without: each is read as
/// its digits stand for, or an error or bad rows are told. Never is another number read.
#[test]
fn random_tables_are_read_rightly_or_not_at_all() {
    let mut random = Random(77);
    let (mut right, mut sure, mut refused) = (0, 0, 0);
    let mut right_bare = 0;
    for number in 0..6000 {
        let mut pick = |most: usize| ((random.part() * most as f64) as usize).min(most - 1);
        let rows = 3 + pick(30);
        let separator = ["\t", ";", ",", ", ", " ", "  ", " | "][pick(7)];
        let (decimal, marks): (char, &[Option<char>]) = if pick(2) == 0 {
            (
                '.',
                &[None, None, Some(','), Some('\''), Some(' '), Some('\u{a0}')],
            )
        } else {
            (
                ',',
                &[
                    None,
                    None,
                    Some('.'),
                    Some('\''),
                    Some(' '),
                    Some('\u{202f}'),
                ],
            )
        };
        let mark = marks[pick(6)];
        let precision = [pick(5), pick(5), pick(5)];
        let style = pick(3);
        let named = pick(3) > 0;
        let low = 10f64.powf(-0.5 + 4.5 * random.part());
        let ratio = 10f64.powf((0.5 + 3.0 * random.part()) / rows as f64);
        // The same without its phase.
        let (mut text, mut bare) = (String::new(), String::new());
        if named {
            let names = ["Frequency (Hz)", "Mag (dB)", "Phase (deg)"];
            writeln!(text, "{}", names.join(separator)).expect("a text");
            writeln!(bare, "{}", names[..2].join(separator)).expect("a text");
        }
        let mut truth: Vec<(f64, Complex64)> = Vec::new();
        let mut has_decimals = false;
        for row in 0..rows {
            let values = [
                low * ratio.powi(row as i32),
                30.0 - 90.0 * random.part(),
                -700.0 * random.part(),
            ];
            let plain = [0, 1, 2].map(|k| match style {
                0 => format!("{:.*}", precision[k], values[k]),
                // As many decimals as it takes, like %g.
                1 => {
                    let fixed = format!("{:.3}", values[k]);
                    fixed.trim_end_matches('0').trim_end_matches('.').to_owned()
                }
                _ => format!("{:.*e}", precision[k], values[k]),
            });
            let digits = plain
                .each_ref()
                .map(|p| p.parse::<f64>().expect("a number"));
            if truth.last().is_some_and(|last| last.0 >= digits[0]) || digits[0] == 0.0 {
                continue;
            }
            truth.push((
                digits[0],
                Complex64::from_polar(10f64.powf(digits[1] / 20.0), digits[2].to_radians()),
            ));
            has_decimals |= plain[..2].iter().any(|p| p.contains('.'));
            let cells = plain.map(|p| dressed(&p, decimal, mark));
            writeln!(text, "{}", cells.join(separator)).expect("a text");
            writeln!(bare, "{}", cells[..2].join(separator)).expect("a text");
        }
        if truth.len() < 3 {
            continue;
        }
        let reading = read_measured(&bare, None);
        let points = &reading.sweep.points;
        let near = |(point, (f, z)): (&Point, &(f64, Complex64))| {
            let same = (point.response / z.norm() - 1.0).norm() < 1e-9;
            (point.frequency / f - 1.0).abs() < 1e-12 && (same || !named)
        };
        let is_right = points.len() == truth.len() && points.iter().zip(&truth).all(near);
        // Whole numbers alone do not tell what a mark in them is.
        let is_told = has_decimals || !matches!(mark, Some('.' | ','));
        assert!(
            is_right || reading.error.is_some() || reading.bad_rows > 0 || !is_told,
            "{number}: {}, {:?}\n{bare}",
            reading.columns,
            reading.notes
        );
        right_bare += usize::from(is_right);
        let reading = read(&text, None);
        if reading.error.is_none() {
            let measured = read_measured(&text, None);
            assert!(measured.doubt || measured == reading, "{number}\n{text}");
        }
        let points = &reading.sweep.points;
        let near = |(point, (f, z)): (&Point, &(f64, Complex64))| {
            let same = (point.response / z - 1.0).norm() < 1e-9;
            (point.frequency / f - 1.0).abs() < 1e-12 && (same || !named)
        };
        let is_right = points.len() == truth.len() && points.iter().zip(&truth).all(near);
        assert!(
            is_right || reading.error.is_some() || reading.bad_rows > 0,
            "{number}: {}, {:?}\n{text}",
            reading.columns,
            reading.notes
        );
        right += usize::from(is_right);
        refused += usize::from(reading.doubt);
        // A mark that is nothing else is never in doubt.
        let is_sure = !text.contains([',', '\u{a0}', '\u{202f}'])
            && (mark != Some(' ') || separator != " " && separator != "  ")
            && decimal == '.';
        if is_sure {
            sure += 1;
            assert!(
                is_right,
                "{number}: {:?} {}\n{text}",
                reading.error, reading.columns
            );
        }
    }
    println!("{right} right, {sure} sure, {refused} in doubt; {right_bare} without their phase");
    assert!(right_bare > 3000, "{right_bare}");
    assert!(
        right > 3000 && sure > 500 && refused > 50,
        "{right} {sure} {refused}"
    );
}

/// Bytes of Python's codecs.
#[test]
fn files_are_decoded_whatever_they_are_encoded_in() {
    for file in reference::read::<Reference>("sweeps").files {
        let digits: Vec<u8> = file.hex.bytes().collect();
        let bytes: Vec<u8> = digits
            .chunks(2)
            .map(|pair| {
                let pair = std::str::from_utf8(pair).expect("ASCII");
                u8::from_str_radix(pair, 16).expect("two digits")
            })
            .collect();
        assert_eq!(decode(&bytes), Ok(file.text), "{}", file.codec);
    }
}

/// A zero byte here and there, a picture's header, a workbook's, noise.
#[test]
fn what_is_no_text_is_not_decoded() {
    let mut random = Random(5);
    let mut noise: Vec<u8> = (0..5000).map(|_| (256.0 * random.part()) as u8).collect();
    for start in [
        &b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..],
        b"\xff\xd8\xff\xe0\0\x10JFIF",
        b"",
        b"\xff\xfe",
    ] {
        noise.splice(..start.len(), start.iter().copied());
        let error = decode(&noise).expect_err("no text");
        assert!(error.contains("is not a text"), "{error}");
    }
    noise.splice(..4, *b"PK\x03\x04");
    let error = decode(&noise).expect_err("no text");
    assert!(error.contains("workbook"), "{error}");
}

/// γ²/(1 − γ²) over its median, whatever else the table has (Bendat and Piersol, "Random Data", 9.1, from memory).
#[test]
fn a_coherence_sets_the_weights() {
    let mut random = Random(9);
    for name in ["Coherence", "coh", "γ²", "gamma^2"] {
        let mut text = format!("f (Hz)\tRe\tIm\t{name}\n");
        let coherences: Vec<f64> = (0..41).map(|_| 0.05 + 0.94 * random.part()).collect();
        for (k, coherence) in coherences.iter().enumerate() {
            writeln!(text, "{}\t1.5\t-0.5\t{coherence}", k + 1).expect("a text");
        }
        text.push_str("50\t1\t1\t0\n51\t1\t1\t1\n52\t1\t1\t1.2\n");
        let reading = read(&text, None);
        let bad: Vec<_> = reading
            .bad
            .iter()
            .map(|bad| (bad.line, &bad.reason[..]))
            .collect();
        assert_eq!(
            bad,
            [
                (
                    43,
                    "The coherence is 0: nothing of the output comes from the input."
                ),
                (45, "The coherence must lie above 0 and be 1 at most.")
            ]
        );
        let mut exact: Vec<f64> = coherences.iter().map(|c| c / (1.0 - c)).collect();
        exact.push(0.9999 / 0.0001);
        let mut sorted = exact.clone();
        sorted.sort_by(f64::total_cmp);
        let median = sorted[sorted.len() / 2];
        for (point, exact) in reading.sweep.points.iter().zip(&exact) {
            assert!(
                (point.weight / (exact / median) - 1.0).abs() < 1e-9,
                "{name} {point:?}"
            );
        }
        assert!(reading.notes.iter().any(|note| note.contains("coherence")));
    }
    let text = "f (Hz);dB;deg;coherence\n1;-2;-3;90\n2;-3;-4;95\n3;-4;-6;99\n";
    let reading = read(text, None);
    assert_eq!(
        (reading.columns.weight, reading.sweep.points[0].weight),
        (None, 1.0)
    );
    assert!(
        reading
            .notes
            .iter()
            .any(|note| note.contains("not between 0 and 1"))
    );
}

/// Noise of 0.5 % below 100 Hz and of 5 % above: the weights of repeated sweeps are as 100 to 1, in one table and in
/// files that are merged, whose frequencies differ by less than 1e-9.
#[test]
fn repeated_sweeps_tell_their_noise() {
    let mut random = Random(21);
    let mut normal = || {
        let size = (-2.0 * (1.0 - random.part()).ln()).sqrt();
        let angle = TAU * random.part();
        Complex64::from_polar(size / 2f64.sqrt(), angle)
    };
    let noise = |frequency: f64| if frequency < 100.0 { 0.005 } else { 0.05 };
    let plant = plant();
    let mut files = Vec::new();
    for file in 0..4 {
        let points = plant
            .points
            .iter()
            .filter(|point| file != 3 || point.frequency > 20.0);
        let points = points.map(|point| {
            let response = point.response * (1.0 + noise(point.frequency) * normal());
            Point::new(point.frequency * (1.0 + 1e-10 * f64::from(file)), response)
        });
        files.push(write(&Sweep {
            points: points.collect(),
        }));
    }
    let readings: Vec<_> = files.iter().map(|file| read(file, None)).collect();
    let merged = merge(&readings.iter().collect::<Vec<_>>());
    let table = files.iter().enumerate().map(|(at, file)| match at {
        0 => &file[..],
        _ => file.split_once('\n').expect("a header").1,
    });
    let together = read(&table.collect::<String>(), None);
    assert_eq!(merged.sweep, together.sweep);
    assert!(
        merged.notes.iter().any(|note| note.contains("scatter")),
        "{:?}",
        merged.notes
    );
    let points = &merged.sweep.points;
    assert_eq!(points.len(), plant.points.len());
    // Away from the step, where the pooling mixes both.
    let mean = |low: f64, high: f64| {
        let own = points.iter().filter(|p| (low..high).contains(&p.frequency));
        let logs: Vec<f64> = own.map(|p| p.weight.ln()).collect();
        (logs.iter().sum::<f64>() / logs.len() as f64).exp()
    };
    let ratio = mean(20.0, 80.0) / mean(130.0, 1e4);
    assert!((70.0..140.0).contains(&ratio), "{ratio}");
    // Below 20 Hz there are three of four.
    let part = mean(1.0, 19.0) / mean(21.0, 80.0);
    assert!((0.5..1.1).contains(&part), "{part}");
    let mut weights: Vec<f64> = points.iter().map(|p| p.weight).collect();
    weights.sort_by(f64::total_cmp);
    assert_eq!(weights[weights.len() / 2], 1.0);
    for (point, truth) in points.iter().zip(&plant.points) {
        assert!((point.frequency / truth.frequency - 1.0).abs() < 1e-9);
        let off = (point.response / truth.response - 1.0).norm();
        assert!(
            off < 4.0 * noise(truth.frequency) / 3f64.sqrt(),
            "{point:?} {off}"
        );
    }
}

/// Files of other frequencies are merged by sorting, and files of one repeat nothing.
#[test]
fn files_are_merged_by_frequency() {
    let one = read("f (Hz) re im\n1 1 0\n3 1 0\n5 1 0\n", None);
    let two = read("f (Hz) re im\n2 1 1\n3 0 1\n", None);
    let merged = merge(&[&one, &two]).sweep;
    let found: Vec<_> = merged
        .points
        .iter()
        .map(|p| (p.frequency, p.weight))
        .collect();
    assert_eq!(found, [(1.0, 1.0), (2.0, 1.0), (3.0, 2.0), (5.0, 1.0)]);
    assert_eq!(merged.points[2].response, Complex64::new(0.5, 0.5));
    assert_eq!(merge(&[&one]).sweep, one.sweep);
    assert_eq!(merge(&[]).sweep, Sweep::default());
}

/// A dense sweep in steps of 0.1 Hz: resonances must keep their height, and noise must not take the points.
#[test]
fn thinning_keeps_resonances() {
    let mut noise = Random(1);
    let mut noise = move || 0.005 * 12f64.sqrt() * (noise.part() - 0.5) / 2f64.sqrt();
    let truth = |frequency: f64| {
        let s = Complex64::new(0.0, TAU * frequency);
        let mode = |f: f64, damping: f64, share: f64| {
            share / (s * s + 2.0 * damping * TAU * f * s + (TAU * f).powi(2))
        };
        (TAU * 27.0).powi(2)
            * (mode(27.0, 0.08, 1.0) + mode(2350.0, 0.006, 0.2) + mode(5100.0, 0.01, -0.15))
    };
    let points = (10..200_010).map(|k| {
        let frequency = 0.1 * f64::from(k);
        Point::new(
            frequency,
            truth(frequency) * (1.0 + Complex64::new(noise(), noise())),
        )
    });
    let sweep = Sweep {
        points: points.collect(),
    };
    let thin = sweep.thinned(600);
    assert_eq!(thin.points.len(), 600);
    let worst = thin
        .points
        .iter()
        .map(|p| (p.response / truth(p.frequency) - 1.0).norm())
        .fold(0.0, f64::max);
    let near = |low: f64, high: f64| {
        thin.points
            .iter()
            .filter(|p| (low..high).contains(&p.frequency))
            .count()
    };
    let counts = [near(20.0, 36.0), near(2320.0, 2380.0), near(5000.0, 5200.0)];
    let gap = thin
        .points
        .windows(2)
        .map(|w| w[1].frequency / w[0].frequency)
        .fold(1.0, f64::max);
    assert!(worst < 0.02, "{worst}");
    assert!(counts.iter().all(|&count| count >= 15), "{counts:?}");
    assert!(gap < 1.15, "{gap}");
}
