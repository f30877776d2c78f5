//! Motions: against python-control and the inversion of Laplace's transform (tests/reference/motion.py), and closed
//! forms of the second order and of a pure delay.

use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

use polewright::feedback::{ErrorConstants, Motion, MotionAsk, OpenLoop, Stimulus, Trajectory};
use polewright::plant::{Mode, Model, Plant, PlantUnits, Rigid, Sweep};
use polewright::response::Transfer;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::Deserialize;

use crate::reference;

#[derive(Deserialize)]
struct Reference {
    loops: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    stages: Vec<Stage>,
    plant: Model,
    omega: f64,
    span: f64,
    times: Vec<f64>,
    /// Error and drive.
    signals: BTreeMap<String, [Vec<f64>; 2]>,
    peaks: BTreeMap<String, [f64; 2]>,
    constants: Option<[Option<f64>; 3]>,
    info: Option<Info>,
}

#[derive(Deserialize)]
struct Stage {
    num: Vec<f64>,
    den: Vec<f64>,
}

#[derive(Deserialize)]
struct Info {
    overshoot: f64,
    peak_time: f64,
    rise_time: f64,
    settling_time: Option<f64>,
    drive_peak: f64,
}

impl Case {
    fn stages(&self) -> Vec<Transfer> {
        let scaled = |stage: &Stage| Transfer {
            num: stage.num.clone(),
            den: stage.den.clone(),
            omega: self.omega,
        };
        self.stages.iter().map(scaled).collect()
    }
}

fn open<'a>(stages: &'a [Transfer], plant: &'a Model) -> OpenLoop<'a> {
    OpenLoop {
        stages: stages.iter().collect(),
        plant: Plant::Model(plant),
        sign: 1.0,
    }
}

fn of(stimulus: Stimulus, span: Option<f64>) -> MotionAsk {
    MotionAsk {
        stimulus,
        span,
        ..MotionAsk::default()
    }
}

fn stimulus(name: &str) -> Stimulus {
    match name {
        "step" => Stimulus::Step,
        "ramp" => Stimulus::Ramp,
        "parabola" => Stimulus::Parabola,
        _ => Stimulus::Disturbance,
    }
}

/// A cubic through the four points round a time.
fn read(time: &[f64], values: &[f64], t: f64) -> f64 {
    let next = time.partition_point(|&own| own < t);
    let first = next.saturating_sub(2).min(time.len() - 4);
    let own = first..first + 4;
    own.clone()
        .map(|i| {
            let others = own.clone().filter(|&j| j != i);
            values[i]
                * others
                    .map(|j| (t - time[j]) / (time[i] - time[j]))
                    .product::<f64>()
        })
        .sum()
}

#[test]
fn motions_agree_with_python_control_and_with_laplaces_transform() {
    let reference: Reference = reference::read("motion");
    assert!(reference.loops.len() >= 36);
    for (number, case) in reference.loops.iter().enumerate() {
        let stages = case.stages();
        let open = open(&stages, &case.plant);
        for (name, signals) in &case.signals {
            let ask = of(stimulus(name), Some(case.span));
            let motion = Motion::work_out(&open, &ask).expect("a motion");
            assert_eq!(motion.stable, Some(true), "{number}");
            let own = [&motion.error, &motion.drive];
            for (which, (own, theirs)) in own.iter().zip(signals).enumerate() {
                let peak = case.peaks[name][which];
                for (t, value) in case.times.iter().zip(theirs) {
                    let apart = (read(&motion.time, own, *t) - value).abs() / peak;
                    let delay = case.plant.delay;
                    assert!(
                        apart < 2e-4,
                        "{number} {name} {which} {t} {delay}: {apart:e}"
                    );
                }
            }
        }
    }
}

#[test]
fn figures_and_constants_agree_with_python_control() {
    let reference: Reference = reference::read("motion");
    let near = |a: Option<f64>, b: f64, scale: f64| (a.expect("a figure") - b).abs() < 1e-3 * scale;
    for (number, case) in reference.loops.iter().enumerate() {
        let (Some(info), Some(constants)) = (&case.info, &case.constants) else {
            continue;
        };
        let stages = case.stages();
        let open = open(&stages, &case.plant);
        let ask = of(Stimulus::Step, Some(case.span));
        let found = Motion::work_out(&open, &ask).expect("a motion").figures;
        assert!(
            near(found.overshoot, info.overshoot, 1.0),
            "{number} {found:?}"
        );
        if info.overshoot > 1e-3 {
            assert!(
                near(found.peak_time, info.peak_time, case.span / 8.0),
                "{number}"
            );
        }
        assert!(
            near(
                found.rise_time,
                info.rise_time,
                info.rise_time + case.span / 40.0
            ),
            "{number}"
        );
        if let Some(settling) = info.settling_time {
            assert!(
                near(found.settling_time, settling, settling),
                "{number} {settling} {found:?}"
            );
        }
        assert!(
            near(
                Some(found.drive_peak),
                info.drive_peak,
                info.drive_peak.abs()
            ),
            "{number} {found:?} {}",
            info.drive_peak
        );
        for name in case.signals.keys() {
            let motion = Motion::work_out(&open, &of(stimulus(name), None)).expect("a motion");
            let figures = &motion.figures;
            let ends = figures.steady_error.is_some();
            assert!(
                !ends || figures.settling_time.is_some(),
                "{number} {name} {:?}",
                motion.notes
            );
            if ends {
                let far = (figures.last_error - figures.steady_error.unwrap_or_default()).abs();
                assert!(
                    far < 0.02 * figures.peak_error.abs(),
                    "{number} {name} {figures:?}"
                );
            }
        }
        let own = ErrorConstants::of(&open).expect("a model");
        for (own, theirs) in [own.kp, own.kv, own.ka].iter().zip(constants) {
            assert_eq!(own.is_some(), theirs.is_some(), "{number}");
            if let (Some(own), Some(theirs)) = (own, theirs) {
                assert!(
                    (own - theirs).abs() <= 1e-9 * theirs.abs(),
                    "{number} {own} {theirs}"
                );
            }
        }
    }
}

/// Ogata, "Modern Control Engineering", 5.8, the table of steady-state errors, from memory: for types 0 to 3 what
/// is left of a step, a ramp and a parabola.
#[test]
fn errors_of_types_0_to_3() {
    const K: f64 = 40.0;
    let table = [
        [Some(1.0 / (1.0 + K)), None, None],
        [Some(0.0), Some(1.0 / K), None],
        [Some(0.0), Some(0.0), Some(1.0 / K)],
        [Some(0.0), Some(0.0), Some(0.0)],
    ];
    for (kind, errors) in table.into_iter().enumerate() {
        let kind = kind as u32;
        let model = Model {
            rigid: Some(Rigid::new(kind.min(2), K)),
            ..Model::default()
        };
        // (1 + 0.5·s)^kind/(1 + 0.01·s)^kind with the third integrator: stable for this gain.
        let lead = Transfer {
            num: vec![1.0, 0.5],
            den: vec![1.0, 0.001],
            omega: 1.0,
        };
        let mut stages = vec![lead; kind as usize];
        if kind == 3 {
            stages[0].den.insert(0, 0.0);
        }
        if kind == 0 {
            stages.push(Transfer {
                num: vec![1.0],
                den: vec![1.0, 1.0],
                omega: 1.0,
            });
        }
        let open = open(&stages, &model);
        let found = ErrorConstants::of(&open).expect("a model");
        assert_eq!(found.kind, kind as i32);
        let own = [found.step_error, found.ramp_error, found.parabola_error];
        for (stimulus, (own, theirs)) in ["step", "ramp", "parabola"]
            .iter()
            .zip(own.iter().zip(errors))
        {
            assert_eq!(own.is_some(), theirs.is_some(), "{kind} {stimulus}");
            let ask = of(self::stimulus(stimulus), None);
            let motion = Motion::work_out(&open, &ask).expect("a motion");
            assert_eq!(motion.stable, Some(true));
            assert_eq!(motion.figures.steady_error, *own);
            if let Some(theirs) = theirs {
                assert!(
                    (own.expect("finite") - theirs).abs() < 1e-15,
                    "{kind} {stimulus}"
                );
                let far = (motion.figures.last_error - theirs).abs();
                assert!(
                    far < 0.02 * motion.figures.peak_error.abs(),
                    "{kind} {stimulus} {far}"
                );
            } else {
                assert!(
                    motion
                        .notes
                        .iter()
                        .any(|note| note.contains("grows without bound")),
                    "{:?}",
                    motion.notes
                );
            }
        }
    }
}

/// The standard second order, ω²/(s² + 2ζω·s + ω²): Ogata, "Modern Control Engineering", 5.3.
#[test]
fn the_second_order_has_its_closed_forms() {
    let omega = 300.0;
    for zeta in [0.1f64, 0.3, 0.5, 0.7, 0.9] {
        let model = Model {
            rigid: Some(Rigid::new(1, omega / (2.0 * zeta))),
            lag: Some(2.0 * zeta * omega / TAU),
            ..Model::default()
        };
        let open = open(&[], &model);
        let motion = Motion::work_out(&open, &MotionAsk::default()).expect("a motion");
        let root = (1.0 - zeta * zeta).sqrt();
        let overshoot = (-PI * zeta / root).exp();
        let peak_time = PI / (omega * root);
        let found = &motion.figures;
        assert!(
            (found.overshoot.expect("some") - overshoot).abs() < 1e-5,
            "{zeta}"
        );
        assert!(
            (found.peak_time.expect("some") / peak_time - 1.0).abs() < 1e-3,
            "{zeta}"
        );
        for (t, e) in motion.time.iter().zip(&motion.error) {
            let wave = omega * root * t;
            let exact = (-zeta * omega * t).exp() * (wave.cos() + zeta / root * wave.sin());
            // Before the first node the error is read off a polynomial.
            assert!((e - exact).abs() < 3e-5, "{zeta} {t}: {e} {exact}");
        }
        assert!(
            found.settling_time.is_some() && motion.notes.is_empty(),
            "{:?}",
            motion.notes
        );
    }
}

/// A gain and a delay: the error is 1, 1 − g, 1 − g + g² … from one delay to the next.
#[test]
fn a_gain_round_a_delay_jumps() {
    for (gain, stable) in [(0.6f64, true), (1.25, false)] {
        let model = Model {
            rigid: Some(Rigid::new(0, gain)),
            delay: 1e-3,
            ..Model::default()
        };
        let motion = Motion::work_out(&open(&[], &model), &of(Stimulus::Step, Some(9.5e-3)))
            .expect("a motion");
        assert_eq!(motion.stable, Some(stable), "{gain}");
        for (t, e) in motion.time.iter().zip(&motion.error) {
            let (rounds, near) = ((t / 1e-3).floor(), (t / 1e-3).fract());
            let exact: f64 = (0..=rounds as i32).map(|k| (-gain).powi(k)).sum();
            // At a jump the value of either side is right.
            assert!(
                (e - exact).abs() < 1e-9 || !(1e-6..1.0 - 1e-6).contains(&near),
                "{gain} {t} {e} {exact}"
            );
        }
    }
}

#[test]
fn what_runs_away_stays_a_number() {
    for gain in [1e-3, 1.0, 1e3, 1e9] {
        for delay in [0.0, 1e-7, 1e-3, 10.0] {
            for integrators in 0..3 {
                let model = Model {
                    rigid: Some(Rigid::new(integrators, -gain)),
                    lag: Some(1e3),
                    delay,
                    ..Model::default()
                };
                for name in ["step", "ramp", "parabola", "disturbance"] {
                    for span in [None, Some(1e-9), Some(1e9)] {
                        let ask = of(stimulus(name), span);
                        let motion = Motion::work_out(&open(&[], &model), &ask).expect("a motion");
                        let signals =
                            [&motion.error, &motion.drive, &motion.position, &motion.time];
                        assert!(signals.iter().all(|s| s.len() == motion.time.len()));
                        assert!(
                            signals.iter().all(|s| s.iter().all(|v| v.is_finite())),
                            "{gain} {delay} {integrators} {name} {span:?}"
                        );
                        let text = serde_json::to_string(&motion).expect("plain data");
                        serde_json::from_str::<Motion>(&text).expect("its own text");
                    }
                }
            }
        }
    }
}

/// Whatever the parts are: an answer in finite numbers, or a sentence.
#[test]
fn nothing_panics_on_odd_parts() {
    const ODD: [f64; 14] = [
        0.0,
        1.0,
        -1.0,
        2.0,
        0.3,
        1e-9,
        1e9,
        -1e4,
        1e4,
        1e-300,
        1e300,
        f64::NAN,
        f64::INFINITY,
        50.0,
    ];
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut answered = 0;
    for number in 0..3000 {
        // Mostly plain numbers, so that some loops can be answered.
        let mut one = || {
            let odd = random.next_u32() % 12 == 0;
            ODD[random.next_u32() as usize % if odd { 14 } else { 5 }]
        };
        let mut list = |most: f64| {
            (0..(one().abs().min(most) as usize + 1))
                .map(|_| one())
                .collect::<Vec<f64>>()
        };
        let mut stages = Vec::new();
        for _ in 0..2 {
            let (num, den, omega) = (list(2.0), list(3.0), list(0.0)[0].abs() * 100.0);
            stages.push(Transfer { num, den, omega });
        }
        let v = list(0.0)
            .into_iter()
            .chain(list(2.0))
            .chain(list(2.0))
            .chain([0.3; 9])
            .collect::<Vec<f64>>();
        let model = Model {
            rigid: (v[0] > 0.5).then_some(Rigid::new(number % 3, v[1])),
            modes: vec![Mode {
                frequency: 30.0 * v[2].abs(),
                damping: v[3].abs(),
                residue: v[4] * 1e4,
                slope: v[5],
            }],
            lag: (v[1] > 0.0).then_some(v[2] * 1e3),
            delay: if number % 2 == 0 {
                0.0
            } else {
                v[3].abs() * 1e-3
            },
        };
        let open = open(&stages, &model);
        let _ = ErrorConstants::of(&open).map(|found| found.sentences(&PlantUnits::default()));
        for name in ["step", "parabola", "disturbance"] {
            if let Ok(motion) = Motion::work_out(&open, &of(stimulus(name), None)) {
                answered += 1;
                let signals = [&motion.error, &motion.drive, &motion.position, &motion.time];
                assert!(
                    signals.iter().all(|s| s.iter().all(|v| v.is_finite())),
                    "{number} {stages:?} {model:?}"
                );
            }
        }
    }
    assert!(answered > 1000, "{answered}");
}

/// A loop of type 1 along a straight way: behind by v/Kv, and at rest afterwards.
#[test]
fn a_trajectory_is_followed() {
    let model = Model {
        rigid: Some(Rigid::new(1, 200.0)),
        delay: 2e-4,
        ..Model::default()
    };
    let trajectory = Trajectory::read("t x\n1 5\n1.5 5\n2.5 9\n3 9\n").expect("rows");
    let ask = MotionAsk {
        stimulus: Stimulus::Trajectory { trajectory },
        saturation: Some(0.01),
        ..MotionAsk::default()
    };
    let motion = Motion::work_out(&open(&[], &model), &ask).expect("a motion");
    let found = &motion.figures;
    assert!((found.peak_error - 4.0 / 200.0).abs() < 2e-5, "{found:?}");
    assert!(
        (found.rms_error.expect("some") - 0.02 * 0.5f64.sqrt()).abs() < 1e-4,
        "{found:?}"
    );
    assert_eq!(
        (motion.time[0], motion.reference[0], motion.position[0]),
        (0.0, 5.0, 5.0)
    );
    // The straight way begins at 1.5 s of the loop's own time, and nothing moves before.
    for (t, error) in motion.time.iter().zip(&motion.error) {
        assert!(*t > 1.5 || *error == 0.0, "{t} {error}");
    }
    assert!(
        (1.5..=2.5 + 1e-3).contains(&found.peak_error_time),
        "{found:?}"
    );
    assert_eq!(
        (found.settling_time, found.steady_error),
        (Some(0.0), Some(0.0))
    );
    let units = |input: &str| PlantUnits {
        input: input.to_owned(),
        ..PlantUnits::default()
    };
    let told = |input| motion.saturates(&ask, &units(input)).expect("a sentence");
    let limit = ask.saturation.expect("a limit");
    assert!(found.drive_peak.abs() > limit);
    assert!(
        told("mA").contains(" mA after ") && told("mA").contains(&format!("limit of {limit} mA:"))
    );
    assert!(told("").contains(&format!("limit of {limit}:")));
}

/// Rows at random times, some close together and some far apart against `scale`.
fn random_rows(random: &mut ChaCha8Rng, scale: f64, start: f64) -> Trajectory {
    let mut part = || f64::from(random.next_u32()) / f64::from(u32::MAX);
    let (mut t, mut rows) = (start, Vec::new());
    for _ in 0..3 + (20.0 * part()) as usize {
        rows.push((t, 4.0 * part() - 2.0));
        t += scale * 10f64.powf(2.5 * part() - 1.0);
    }
    Trajectory { rows }
}

/// The errors' largest size, and when; the effective value between the rows.
fn extremes(trajectory: &Trajectory, end: f64, error: impl Fn(f64) -> f64) -> (f64, f64, f64) {
    let (first, last) = (
        trajectory.start(),
        trajectory.start() + trajectory.duration(),
    );
    let dense = (0..=200_000).map(|k| first + (end - first) * f64::from(k) / 2e5);
    let (mut peak, mut when, mut squares, mut count) = (0.0f64, 0.0, 0.0, 0.0);
    for t in dense {
        let own = error(t);
        if t <= last {
            squares += own * own;
            count += 1.0;
        }
        if own.abs() > peak.abs() {
            (peak, when) = (own, t);
        }
    }
    for row in &trajectory.rows {
        let own = error(row.0);
        if own.abs() > peak.abs() {
            (peak, when) = (own, row.0);
        }
    }
    (peak, when, f64::sqrt(squares / count))
}

fn along(trajectory: &Trajectory) -> MotionAsk {
    of(
        Stimulus::Trajectory {
            trajectory: trajectory.clone(),
        },
        None,
    )
}

/// Loops of the second order, ω²/(s(s + 2ζω)): the error after a corner is that of a ramp (Ogata, "Modern Control
/// Engineering", 5.3, from memory), and those of all corners add up. Rows act at their own times.
#[test]
fn errors_along_random_trajectories_have_their_closed_form() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    for number in 0..60 {
        let omega = 300.0;
        let zeta = [0.2f64, 0.5, 0.8][number % 3];
        let model = Model {
            rigid: Some(Rigid::new(1, omega / (2.0 * zeta))),
            lag: Some(2.0 * zeta * omega / TAU),
            ..Model::default()
        };
        let start = [0.0, 0.1, -0.05][number / 3 % 3];
        let trajectory = random_rows(&mut random, 1.0 / omega, start);
        let wave = omega * (1.0 - zeta * zeta).sqrt();
        let ramp = |t: f64| {
            let (sin, cos) = (wave * t).sin_cos();
            let fading = 2.0 * zeta / omega * cos + (2.0 * zeta * zeta - 1.0) / wave * sin;
            2.0 * zeta / omega - (-zeta * omega * t).exp() * fading
        };
        let slopes = trajectory
            .rows
            .windows(2)
            .map(|w| (w[1].1 - w[0].1) / (w[1].0 - w[0].0));
        let slopes: Vec<f64> = slopes.chain([0.0]).collect();
        let corners: Vec<(f64, f64)> = trajectory
            .rows
            .iter()
            .enumerate()
            .map(|(k, row)| (row.0, slopes[k] - if k > 0 { slopes[k - 1] } else { 0.0 }))
            .collect();
        let error = |t: f64| -> f64 {
            let own = corners.iter().filter(|corner| corner.0 < t);
            own.map(|(at, change)| change * ramp(t - at)).sum()
        };
        let motion = Motion::work_out(&open(&[], &model), &along(&trajectory)).expect("a motion");
        let found = &motion.figures;
        assert_eq!(motion.time[0], start.min(0.0));
        for (t, own) in motion.time.iter().zip(&motion.error) {
            assert!(
                (own - error(*t)).abs() < 1e-4 * found.peak_error.abs(),
                "{number} {t} {own} {}",
                error(*t)
            );
        }
        let end = motion.time[motion.time.len() - 1];
        let (peak, when, rms) = extremes(&trajectory, end, error);
        assert!(
            (found.peak_error / peak - 1.0).abs() < 1e-4,
            "{number} {found:?} {peak} {when}"
        );
        assert!(
            (found.peak_error_time - when).abs() < 1e-3 * (end - start)
                || error(found.peak_error_time).abs() > 0.9999 * peak.abs(),
            "{number} {found:?} {when}"
        );
        assert!(
            (found.rms_error.expect("some") / rms - 1.0).abs() < 1e-3,
            "{number} {found:?} {rms}"
        );
    }
}

/// An integrator behind a delay, against the trapezoidal rule on a grid two thousand times as fine as the delay.
#[test]
fn errors_along_random_trajectories_with_a_delay() {
    const FINE: usize = 2000;
    let mut random = ChaCha8Rng::seed_from_u64(4);
    for number in 0..12 {
        let (gain, delay) = (200.0, [3e-4, 2e-3, 4e-3][number % 3]);
        let model = Model {
            rigid: Some(Rigid::new(1, gain)),
            delay,
            ..Model::default()
        };
        let mut trajectory = random_rows(&mut random, 1.0 / gain, 0.0);
        trajectory.rows.truncate(4);
        let motion = Motion::work_out(&open(&[], &model), &along(&trajectory)).expect("a motion");
        let step = delay / FINE as f64;
        let end = motion.time[motion.time.len() - 1];
        let count = (end / step) as usize;
        let mut position = vec![0.0; count + 1];
        let mut errors = vec![0.0; count + 1];
        for k in 0..=count {
            let back = k.checked_sub(FINE).map_or(0.0, |k| position[k]);
            let wanted = trajectory.at(k as f64 * step) - trajectory.rows[0].1;
            errors[k] = wanted - back;
            if k > 0 {
                position[k] = position[k - 1] + 0.5 * gain * step * (errors[k] + errors[k - 1]);
            }
        }
        let peak = errors.iter().fold(0.0f64, |peak, e| peak.max(e.abs()));
        let found = &motion.figures;
        assert!(
            (found.peak_error.abs() / peak - 1.0).abs() < 1e-4,
            "{number} {found:?} {peak}"
        );
        for (t, own) in motion.time.iter().zip(&motion.error) {
            let k = ((t / step) as usize).min(count);
            let next = (k + 1).min(count);
            let part = t / step - k as f64;
            let exact = errors[k] + (errors[next] - errors[k]) * part;
            assert!(
                (own - exact).abs() < 2e-4 * peak,
                "{number} {t} {own} {exact}"
            );
        }
    }
}

/// A move that goes on beyond the time shown is said to; by default the time shown holds it and its settling.
#[test]
fn a_move_beyond_the_time_shown_is_told() {
    let model = Model {
        rigid: Some(Rigid::new(1, 200.0)),
        ..Model::default()
    };
    let trajectory = Trajectory::read("0.1 0\n0.6 1\n1.1 0\n").expect("rows");
    let ask = |span| MotionAsk {
        span,
        ..along(&trajectory)
    };
    let work = |span| Motion::work_out(&open(&[], &model), &ask(span)).expect("a motion");
    let whole = work(None);
    assert!(whole.time.last().expect("some") > &1.1 && whole.notes.is_empty());
    assert!((whole.figures.peak_error.abs() - 2.0 / 200.0).abs() < 1e-6);
    let short = work(Some(0.4));
    assert!((short.time.last().expect("some") - 0.4).abs() < 1e-3);
    assert!(
        short
            .notes
            .iter()
            .any(|note| note.contains("before the trajectory does at 1.1 s")),
        "{:?}",
        short.notes
    );
    assert_eq!(
        (short.figures.settling_time, short.figures.rms_error),
        (None, None)
    );
    let before = work(Some(0.05));
    assert!(
        before
            .notes
            .iter()
            .any(|note| note.contains("begins at 100 ms")),
        "{:?}",
        before.notes
    );
    assert!(before.error.iter().all(|e| *e == 0.0));
}

#[test]
fn a_sweep_has_no_states() {
    let sweep = Sweep::default();
    let open = OpenLoop {
        stages: Vec::new(),
        plant: Plant::Sweep(&sweep),
        sign: 1.0,
    };
    let error = Motion::work_out(&open, &MotionAsk::default()).unwrap_err();
    assert!(error.starts_with("A sweep has no states"), "{error}");
    assert!(ErrorConstants::of(&open).is_err());
}

/// Order 20: what a slider would wait for.
#[test]
#[ignore = "a timing, to be looked at"]
fn how_long_it_takes() {
    let corner = |zero: f64, pole: f64| Transfer {
        num: vec![1.0, 1.0 / zero],
        den: vec![1.0, 1.0 / pole],
        omega: TAU,
    };
    let mut stages = vec![corner(100.0, 900.0), corner(20.0, 1e-3)];
    stages.extend((0..9).map(|k| corner(f64::INFINITY, 2e4 * f64::from(k + 1))));
    for delay in [0.0, 3e-6, 1e-4] {
        let omega = TAU * 20.0;
        let mode = |frequency: f64, residue: f64| Mode {
            frequency,
            damping: 0.01,
            residue,
            slope: 0.0,
        };
        let model = Model {
            rigid: None,
            modes: vec![
                mode(20.0, omega * omega),
                mode(3e3, 3.0 * omega),
                mode(5e3, -omega),
                mode(9e3, omega),
            ],
            lag: Some(3e4),
            delay,
        };
        let mut open = open(&stages, &model);
        open.sign = 1.0 / open.at(300.0).norm();
        for name in ["step", "ramp", "disturbance"] {
            let start = std::time::Instant::now();
            let motion = Motion::work_out(&open, &of(stimulus(name), None)).expect("a motion");
            let order = open.states().expect("states").order();
            println!(
                "order {order} delay {delay} {name}: {:?}, {} points to {:?}, {:?} {:?}",
                start.elapsed(),
                motion.time.len(),
                motion.time.last(),
                motion.stable,
                motion.notes
            );
        }
        println!(
            "{:#?}",
            ErrorConstants::of(&open)
                .expect("a model")
                .sentences(&PlantUnits::default())
        );
    }
}
