//! Sweeps read from texts against what the script that wrote them says (tests/reference/sweeps.py), and
//! every form against every other.

use std::f64::consts::TAU;
use std::fmt::Write;

use num_complex::Complex64;
use polewright::servo::sweep::{
    Columns, DEMO, FrequencyUnit, MagnitudeUnit, PhaseUnit, Point, Response, Separator, Sweep,
    read, write,
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::asks::Random;
use crate::reference;

#[derive(Deserialize)]
struct Reference {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    text: String,
    frequencies: Vec<f64>,
    response: Vec<Complex64>,
    bad_lines: Vec<usize>,
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
            Response::Cartesian { .. } => [z.re, z.im],
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
        0usize..5,
    )
        .prop_map(
            |(separator, decimal_comma, header, [frequency, one, two], frequency_unit, form)| {
                Columns {
                    separator,
                    decimal_comma,
                    header,
                    frequency,
                    frequency_unit,
                    response: match forms()[form].0 {
                        Response::Cartesian { .. } => Response::Cartesian {
                            real: one,
                            imaginary: two,
                        },
                        Response::Polar {
                            magnitude_unit,
                            phase_unit,
                            ..
                        } => Response::Polar {
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

/// A sweep of any bits that are read at all.
fn any_sweep() -> impl Strategy<Value = Sweep> {
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
        prop_assert_eq!(reading.notes, Vec::<String>::new());
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
