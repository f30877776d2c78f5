//! Fitting plants to sweeps: 300 drawn plants seen through noise, held against SciPy's least squares and
//! scikit-rf's vector fitting on the same data (tests/reference/fits.py), and the user's hand.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::plant::{
    FitError, FitWork, Fitted, Free, LowEnd, Mode, Model, Point, Rigid, Settings, Start, Sweep,
    Wish, fit, refit,
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::reference;

/// Noise in real and imaginary part, relative to the answer.
const NOISE: f64 = 0.005;

#[derive(Deserialize)]
struct Fits {
    plants: Vec<Plant>,
    scatters: Vec<Scatter>,
}

#[derive(Deserialize)]
struct Plant {
    low: f64,
    high: f64,
    count: usize,
    points: usize,
    integrators: Option<u32>,
    gain: Option<f64>,
    /// Frequency, damping, residue.
    modes: Vec<[f64; 3]>,
    delay: f64,
    seed: u64,
    start: Near,
    cost: f64,
    cost_from_truth: f64,
    self_check: SelfCheck,
    /// Frequency, real and imaginary part.
    probe: Vec<[f64; 3]>,
}

#[derive(Deserialize)]
struct Near {
    modes: Vec<[f64; 3]>,
    delay: f64,
}

#[derive(Deserialize)]
struct SelfCheck {
    cost_vector_fitting: f64,
}

#[derive(Deserialize)]
struct Scatter {
    plant: usize,
    repeats: u64,
    /// Of ln frequency, ln damping, residue (each for all modes), gain, delay.
    deviations: Vec<f64>,
}

/// SplitMix64, as the script has it.
struct SplitMix(u64);

impl SplitMix {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53) + 2f64.powi(-54)
    }

    fn normal(&mut self) -> Complex64 {
        let size = (-2.0 * self.unit().ln()).sqrt();
        size * Complex64::cis(TAU * self.unit())
    }
}

impl Plant {
    fn model(&self) -> Model {
        Model {
            rigid: self.integrators.zip(self.gain).map(rigid),
            modes: self.modes.iter().map(mode).collect(),
            lag: None,
            delay: self.delay,
        }
    }

    /// The script's start, off in everything that is not linear.
    fn start(&self) -> Model {
        Model {
            modes: self.start.modes.iter().map(mode).collect(),
            delay: self.start.delay,
            ..self.model()
        }
    }

    /// The sweep's frequencies by the script's recipe.
    fn frequencies(&self) -> Vec<f64> {
        let share = |i: usize| i as f64 / (self.count - 1) as f64;
        let mut points: Vec<f64> = (0..self.count)
            .map(|i| self.low * (self.high / self.low).powf(share(i)))
            .collect();
        for [f, damping, _] in &self.modes {
            let around = (-12..=12).map(|i| f * (1.0 + damping * f64::from(i) / 2.0));
            points.extend(around.filter(|x| self.low < *x && *x < self.high));
        }
        points.sort_by(f64::total_cmp);
        points
    }

    /// `model` measured at this plant's frequencies.
    fn sweep_of(&self, model: &Model, seed: u64) -> Sweep {
        let mut random = SplitMix(seed);
        let point = |frequency: f64| {
            Point::new(
                frequency,
                model.at(frequency) * (1.0 + NOISE * random.normal()),
            )
        };
        Sweep {
            points: self.frequencies().into_iter().map(point).collect(),
        }
    }

    fn sweep(&self) -> Sweep {
        self.sweep_of(&self.model(), self.seed)
    }
}

fn rigid((integrators, gain): (u32, f64)) -> Rigid {
    Rigid::new(integrators, gain)
}

fn mode(&[frequency, damping, residue]: &[f64; 3]) -> Mode {
    Mode {
        frequency,
        damping,
        residue,
        slope: 0.0,
    }
}

fn fits() -> Fits {
    reference::read("fits")
}

fn by_itself(sweep: &Sweep) -> Fitted {
    fit(sweep, &Settings::default()).expect("a sweep that can be fitted")
}

/// Sum of squares, from the told root mean square.
fn cost(fitted: &Fitted, points: usize) -> f64 {
    fitted.rms * fitted.rms * points as f64
}

/// Whether `found` has the truth's parts and is as close to it as is promised.
fn agrees(found: &Model, truth: &Model) -> bool {
    let ends = |m: &Model| m.rigid.map(|r| r.integrators);
    let close = |(a, b): (&Mode, &Mode)| {
        (a.frequency / b.frequency - 1.0).abs() < 0.002 && (a.damping / b.damping - 1.0).abs() < 0.1
    };
    ends(found) == ends(truth)
        && found.lag.is_some() == truth.lag.is_some()
        && found.modes.len() == truth.modes.len()
        && found.modes.iter().zip(&truth.modes).all(close)
}

#[test]
fn the_sweeps_are_the_script_s() {
    for plant in fits().plants {
        let sweep = plant.sweep();
        assert_eq!(sweep.points.len(), plant.points);
        let last = plant.points - 1;
        for (at, [frequency, re, im]) in [0, plant.points / 2, last].into_iter().zip(plant.probe) {
            let Point {
                frequency: f,
                response,
                ..
            } = sweep.points[at];
            assert!((f / frequency - 1.0).abs() < 1e-12);
            let probe = Complex64::new(re, im);
            assert!((response - probe).norm() < 1e-9 * probe.norm());
        }
    }
}

#[test]
fn every_plant_is_found_from_its_sweep_alone() {
    for (number, plant) in fits().plants.iter().enumerate() {
        let found = by_itself(&plant.sweep());
        let truth = plant.model();
        assert!(
            agrees(&found.model, &truth),
            "{number}: {:?} for {truth:?}",
            found.model
        );
        assert!(found.model.modes.iter().all(|m| m.slope == 0.0), "{number}");
        assert!(found.set_aside.is_empty(), "{number}");

        let ours = cost(&found, plant.points);
        assert!(
            ours <= plant.cost_from_truth * (1.0 + 1e-6),
            "{number}: {ours}"
        );
        // Vector fitting has complex residues and a constant more, and no delay: per degree of freedom, with
        // what a few per cent of them can be off by chance.
        let count = plant.modes.len();
        let low = plant.integrators.unwrap_or(0) as usize;
        let freedom = |unknowns: usize| (2 * plant.points - unknowns) as f64;
        let ours = ours / freedom(3 * count + 1 + usize::from(plant.gain.is_some()));
        let theirs = plant.self_check.cost_vector_fitting / freedom(4 * count + 2 * low + 1);
        assert!(ours < 1.02 * theirs, "{number}: {ours} and {theirs}");
    }
}

#[test]
fn a_refit_is_never_worse_than_scipy_from_the_same_start() {
    for (number, plant) in fits().plants.iter().enumerate() {
        let start = plant.start();
        let found = refit(&start, &Free::usual(&start), &plant.sweep()).expect("points enough");
        let ours = cost(&found, plant.points);
        assert!(
            ours <= plant.cost * (1.0 + 1e-6),
            "{number}: {ours} and {}",
            plant.cost
        );
    }
}

#[test]
fn stated_uncertainties_are_the_scatter_over_noise() {
    let Fits { plants, scatters } = fits();
    for scatter in scatters {
        let plant = &plants[scatter.plant];
        let truth = plant.model();
        let repeat = |seed: u64| {
            let sweep = plant.sweep_of(&truth, 1000 + seed);
            refit(&truth, &Free::usual(&truth), &sweep).expect("points enough")
        };
        let repeats: Vec<Fitted> = (0..scatter.repeats).map(repeat).collect();
        let stated = |fitted: &Fitted| -> Vec<f64> {
            let Model {
                modes,
                rigid,
                delay,
                ..
            } = &fitted.uncertainties;
            let relative = |x: fn(&Mode) -> f64| {
                modes
                    .iter()
                    .zip(&truth.modes)
                    .map(move |(u, m)| x(u) / x(m))
            };
            relative(|m| m.frequency)
                .chain(relative(|m| m.damping))
                .chain(modes.iter().map(|m| m.residue))
                .chain(rigid.map(|r| r.gain))
                .chain([*delay])
                .collect()
        };
        let all: Vec<Vec<f64>> = repeats.iter().map(stated).collect();
        for (k, scatter) in scatter.deviations.iter().enumerate() {
            // 200 repeats know a deviation to 5 %.
            let stated = all.iter().map(|s| s[k]).sum::<f64>() / all.len() as f64;
            assert!(
                (stated / scatter - 1.0).abs() < 0.15,
                "{stated} and {scatter}"
            );
        }
        // And the truth lies within one standard uncertainty about two times in three.
        let within = |fitted: &&Fitted| {
            let (found, stated) = (fitted.model.modes[0], fitted.uncertainties.modes[0]);
            (found.frequency - truth.modes[0].frequency).abs() < stated.frequency
        };
        let share = repeats.iter().filter(within).count() as f64 / repeats.len() as f64;
        assert!((0.58..0.78).contains(&share), "{share}");
    }
}

#[test]
fn bad_points_are_set_aside() {
    for (number, plant) in fits().plants.iter().enumerate().take(60) {
        let mut random = SplitMix(plant.seed + 9000);
        let mut sweep = plant.sweep();
        let mut bad: Vec<usize> = Vec::new();
        while bad.len() < 3 {
            let at = (random.unit() * plant.points as f64) as usize;
            if bad.iter().all(|b| b.abs_diff(at) > 2) {
                bad.push(at);
            }
        }
        bad.sort_unstable();
        // One far up, one far down, one turned.
        let wrong = [
            Complex64::new(8.0, 0.0),
            Complex64::new(0.02, 0.0),
            Complex64::I,
        ];
        for (at, wrong) in bad.iter().zip(wrong) {
            sweep.points[*at].response *= wrong;
        }
        let found = by_itself(&sweep);
        assert!(
            agrees(&found.model, &plant.model()),
            "{number}: {:?}",
            found.model
        );
        assert_eq!(found.set_aside, bad, "{number}");
        assert!(found.notes[0].contains("set aside"));
    }
}

#[test]
fn a_lag_is_found_beside_the_delay() {
    for (number, plant) in fits().plants.iter().enumerate().take(60) {
        let corner = plant.high * [0.1, 0.3, 0.6][number % 3];
        let truth = Model {
            lag: Some(corner),
            ..plant.model()
        };
        let found = by_itself(&plant.sweep_of(&truth, plant.seed));
        assert!(
            agrees(&found.model, &truth),
            "{number}: {:?} for {truth:?}",
            found.model
        );
        let lag = found.model.lag.expect("a lag");
        assert!(
            (lag / corner - 1.0).abs() < 0.1,
            "{number}: {lag} for {corner}"
        );
    }
}

#[test]
fn a_slope_is_freed_where_it_is_asked_for() {
    for (number, plant) in fits().plants.iter().enumerate().take(60) {
        let mut truth = plant.model();
        // A residue turned by 17° at the resonance.
        let last = truth.modes.len() - 1;
        let sloped = &mut truth.modes[last];
        sloped.slope = 0.3 * sloped.residue / (TAU * sloped.frequency);
        let found = by_itself(&plant.sweep_of(&truth, plant.seed));
        let same = found.model.modes.len() == truth.modes.len();
        if !same || found.model.modes[last].slope == 0.0 {
            panic!("{number}: {:?} for {truth:?}", found.model);
        }
    }
}

/// A mass on its cable with two modes, seen by a good instrument.
fn table() -> (Model, Sweep) {
    let model = Model {
        rigid: Some(rigid((2, 50.0))),
        modes: vec![mode(&[180.0, 0.01, 20.0]), mode(&[420.0, 0.02, -15.0])],
        lag: None,
        delay: 2e-4,
    };
    let mut random = SplitMix(5);
    let point = |i: i32| {
        let frequency = 5.0 * 200f64.powf(f64::from(i) / 199.0);
        Point::new(
            frequency,
            model.at(frequency) * (1.0 + 0.001 * random.normal()),
        )
    };
    let points = (0..200).map(point).collect();
    (model, Sweep { points })
}

#[test]
fn the_size_of_the_numbers_changes_nothing() {
    let (_, sweep) = table();
    let plain = by_itself(&sweep);
    for (size, pace) in [(1e-9, 1.0), (1e9, 1e-3), (1e40, 1e6)] {
        let point = |p: &Point| Point::new(p.frequency * pace, p.response * size);
        let points = sweep.points.iter().map(point).collect();
        let found = by_itself(&Sweep { points });
        assert!((found.rms / plain.rms - 1.0).abs() < 1e-6);
        for (a, b) in found.model.modes.iter().zip(&plain.model.modes) {
            assert!((a.frequency / pace / b.frequency - 1.0).abs() < 1e-6);
            assert!((a.residue / size / pace / pace / b.residue - 1.0).abs() < 1e-4);
        }
    }
}

#[test]
fn what_is_held_stays() {
    let (model, sweep) = table();
    let mut start = Start::of(model);
    start.model.modes[0].damping = 0.012;
    start.free.modes[0].damping = false;
    start.model.delay = 1e-4;
    start.free.delay = false;
    let settings = Settings {
        start: Some(start),
        ..Settings::default()
    };
    let found = fit(&sweep, &settings).expect("points enough");
    assert_eq!(found.model.modes[0].damping, 0.012);
    assert_eq!(found.uncertainties.modes[0].damping, 0.0);
    assert!((found.model.delay - 1e-4).abs() < 1e-15);
    assert_eq!(found.uncertainties.delay, 0.0);
    assert!(found.uncertainties.modes[1].damping > 0.0);
    assert!(found.rms > 0.02); // both are wrong
    assert!(found.notes.iter().any(|n| n.contains("not white noise")));
}

#[test]
fn a_mode_is_taken_away_and_put_back_by_hand() {
    let (model, sweep) = table();
    let whole = by_itself(&sweep);
    let mut start = Start::of(whole.model.clone());
    start.remove_mode(1);
    let settings = |start: &Start| Settings {
        start: Some(start.clone()),
        ..Settings::default()
    };
    let without = fit(&sweep, &settings(&start)).expect("points enough");
    assert!(without.rms > 20.0 * whole.rms);
    start.model = without.model;
    start.add_mode(400.0); // about where the peak is
    let again = fit(&sweep, &settings(&start)).expect("points enough");
    assert!((again.rms / whole.rms - 1.0).abs() < 1e-3);
    assert!(agrees(&again.model, &model));
}

#[test]
fn what_is_asked_for_is_kept() {
    let (model, sweep) = table();
    let settings = Settings {
        from: Some(20.0),
        to: Some(300.0),
        low_end: Some(LowEnd::Inertia),
        delay: Wish::Held(2e-4),
        lag: Wish::Absent,
        most_modes: 1,
        ..Settings::default()
    };
    let found = fit(&sweep, &settings).expect("points enough");
    assert_eq!(found.model.rigid.map(|r| r.integrators), Some(2));
    assert!((found.model.delay / 2e-4 - 1.0).abs() < 1e-12);
    assert_eq!(found.model.modes.len(), 1);
    assert!((found.model.modes[0].frequency / 180.0 - 1.0).abs() < 0.002);
    assert_eq!(found.residuals.len(), sweep.points.len());
    for end in LowEnd::ALL {
        let settings = Settings {
            low_end: Some(end),
            ..Settings::default()
        };
        let found = fit(&sweep, &settings).expect("points enough");
        assert_eq!(LowEnd::of(&found.model), end);
        let close = |m: &Mode| (m.frequency / model.modes[0].frequency - 1.0).abs() < 0.01;
        assert!(
            found.model.modes.iter().any(close),
            "{end:?}: {:?}",
            found.model
        );
    }
}

#[test]
fn a_held_delay_stays_where_a_lag_is_found() {
    let (model, _) = table();
    let truth = Model {
        lag: Some(150.0),
        ..model
    };
    let points = (0..200).map(|i| 5.0 * 200f64.powf(f64::from(i) / 199.0));
    let mut random = SplitMix(6);
    let point = |frequency: f64| {
        Point::new(
            frequency,
            truth.at(frequency) * (1.0 + 0.001 * random.normal()),
        )
    };
    let sweep = Sweep {
        points: points.map(point).collect(),
    };
    let settings = Settings {
        delay: Wish::Held(2e-4),
        ..Settings::default()
    };
    let found = fit(&sweep, &settings).expect("points enough");
    assert!((found.model.delay / 2e-4 - 1.0).abs() < 1e-12);
    assert!(agrees(&found.model, &truth), "{:?}", found.model);
}

#[test]
fn a_sweep_that_begins_above_the_suspension_sees_a_free_mass() {
    let model = Model {
        rigid: None,
        modes: vec![mode(&[0.5, 0.05, 3.0]), mode(&[240.0, 0.01, 0.6])],
        lag: None,
        delay: 1e-4,
    };
    let mut random = SplitMix(11);
    let point = |i: i32| {
        let frequency = 20.0 * 50f64.powf(f64::from(i) / 149.0);
        Point::new(
            frequency,
            model.at(frequency) * (1.0 + NOISE * random.normal()),
        )
    };
    let found = by_itself(&Sweep {
        points: (0..150).map(point).collect(),
    });
    let rigid = found.model.rigid.expect("a rigid part");
    assert_eq!(rigid.integrators, 2);
    assert!((rigid.gain / 3.0 - 1.0).abs() < 0.02);
    assert_eq!(found.model.modes.len(), 1);
    assert!(found.peaks[0].top && found.peaks[0].rise_db.is_some_and(|db| db > 10.0));
    // Both move the same way: between them they cancel once, below the mode.
    let zero = 240.0 / (1.0 + 0.6 / 3.0f64).sqrt();
    assert_eq!(found.antiresonances.len(), 1);
    assert!((found.antiresonances[0].frequency / zero - 1.0).abs() < 0.01);
}

#[test]
fn too_few_points_are_told_with_what_is_needed() {
    let (model, mut sweep) = table();
    sweep.points.truncate(4);
    let error = refit(&model, &Free::usual(&model), &sweep).unwrap_err();
    let expected = FitError::Points {
        points: 4,
        needed: 5,
        parameters: 8,
    };
    assert_eq!(error, expected);
    sweep.points.truncate(3);
    let error = fit(&sweep, &Settings::default()).unwrap_err().to_string();
    assert!(error.contains("At least 6 points"), "{error}");
}

#[test]
fn a_handful_of_points_is_told_to_be_few() {
    let model = Model {
        rigid: None,
        modes: vec![mode(&[40.0, 0.1, 6e4])],
        lag: None,
        delay: 0.0,
    };
    let sweep = |count: i32| {
        let point = |i: i32| {
            let frequency = 5.0 * 40f64.powf(f64::from(i) / f64::from(count - 1));
            Point::new(frequency, model.at(frequency))
        };
        Sweep {
            points: (0..count).map(point).collect(),
        }
    };
    let is_doubted = |count: i32| {
        let found = by_itself(&sweep(count));
        found.notes.iter().any(|note| note.contains("are few for"))
    };
    assert!(is_doubted(6));
    assert!(!is_doubted(40));
}

#[test]
fn a_told_fit_is_read_back_from_json() {
    let (_, sweep) = table();
    let found = by_itself(&sweep);
    let text = serde_json::to_string(&found).expect("JSON");
    assert_eq!(serde_json::from_str::<Fitted>(&text).expect("a fit"), found);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever the sweep, a fit ends, its numbers are sound, and JSON holds them.
    #[test]
    fn any_sweep_comes_to_an_end(
        points in prop::collection::vec((0.0..0.5f64, -3.0..3.0f64, -3.2..3.2f64), 6..60),
        size in -40.0..40.0f64,
        begin in -5.0..1.0f64,
        end in prop::sample::select(vec![None, Some(LowEnd::Spring), Some(LowEnd::Integrator)]),
    ) {
        let mut frequency = 10f64.powf(begin);
        let point = |(step, level, phase): (f64, f64, f64)| {
            frequency *= 1.0 + 1e-6 + step;
            Point::new(frequency, Complex64::from_polar(10f64.powf(level + size), phase))
        };
        let sweep = Sweep { points: points.into_iter().map(point).collect() };
        let settings = Settings { low_end: end, ..Settings::default() };
        let mut work = FitWork::begin(&sweep, &settings).expect("a sweep that can be fitted");
        let mut steps = 0;
        while work.step().is_pending() {
            steps += 1;
            prop_assert!(steps < 100_000);
        }
        let found = work.into_fitted();
        for mode in &found.model.modes {
            prop_assert!(mode.frequency > 0.0 && (1e-5..=10.0).contains(&mode.damping));
        }
        let text = serde_json::to_string(&found).expect("JSON");
        prop_assert!(serde_json::from_str::<Fitted>(&text).is_ok());
    }
}
