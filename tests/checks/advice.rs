//! Advice on notches against brute force: plants and notches drawn densely from their boxes, notches tried on
//! grids that close in on the best.

use std::f64::consts::TAU;

use polewright::compensation::{Advice, NotchVerdict, NotchWish, advise};
use polewright::feedback::{
    OpenLoop, OpenPoles, PlantVariations, trace, unstable_poles, whole_range,
};
use polewright::plant::{Mode, Model, Plant, Rigid};
use polewright::response::{Transfer, log_grid};

use super::draw::Draw;

/// A loop that crosses over at `crossover`, a resonance of its own height above, and what is wished.
struct Case {
    stages: Vec<Transfer>,
    model: Model,
    sign: f64,
    wish: NotchWish,
}

impl Case {
    fn open(&self) -> OpenLoop<'_> {
        OpenLoop {
            stages: self.stages.iter().collect(),
            plant: Plant::Model(&self.model),
            sign: self.sign,
        }
    }

    fn drawn(draw: &mut Draw) -> Case {
        let crossover = draw.corner(50.0, 500.0);
        let omega = TAU * crossover;
        let integrators = 1 + draw.one_of(2);
        let mut stages = Vec::new();
        if integrators == 2 {
            let spread = draw.even(3.0, 5.0);
            stages.push(Transfer {
                num: vec![1.0, spread],
                den: vec![1.0, 1.0 / spread],
                omega,
            });
        }
        let line = omega.powi(integrators as i32);
        let frequency = crossover * draw.corner(3.0, 15.0);
        let damping = draw.corner(0.003, 0.05);
        // So high against 1.
        let height = draw.corner(0.3, 8.0);
        let own = TAU * frequency;
        let lead = if integrators == 2 { 0.06 } else { 1.0 };
        let sense = if draw.one_of(4) == 0 { -1.0 } else { 1.0 };
        let residue = sense * height * 2.0 * damping * own * own * lead;
        let mut modes = vec![Mode {
            frequency,
            damping,
            residue,
            slope: 0.0,
        }];
        if draw.one_of(2) == 0 {
            modes.push(Mode {
                frequency: frequency * draw.corner(1.5, 4.0),
                damping: 0.02,
                residue: 0.1 * residue,
                slope: 0.0,
            });
        }
        let model = Model {
            rigid: Some(Rigid::new(integrators, line)),
            modes,
            lag: Some(crossover * draw.corner(5.0, 50.0)),
            delay: draw.even(0.0, 0.1) / omega,
        };
        let wish = NotchWish {
            mode: 0,
            variations: PlantVariations {
                frequency: draw.corner(0.003, 0.06),
                damping: draw.even(0.0, 0.5),
                gain: draw.even(0.0, 0.2),
            },
            notch_frequency: draw.corner(0.002, 0.03),
            notch_q: draw.even(0.0, 0.1),
            level: draw.even(0.2, 0.8),
            crossover: Some(crossover),
            phase_margin: 30.0,
            sensitivity: 2.0,
        };
        let mut case = Case {
            stages,
            model,
            sign: 1.0,
            wish,
        };
        case.sign = 1.0 / case.open().at(crossover).norm();
        case
    }

    /// The plant with its mode strayed by these shares of the box, −1 to 1.
    fn strayed(&self, [frequency, damping, gain]: [f64; 3]) -> Model {
        let mut model = self.model.clone();
        let variations = self.wish.variations;
        let gain = 1.0 + gain * variations.gain;
        model.modes[0].frequency *= 1.0 + frequency * variations.frequency;
        model.modes[0].damping *= 1.0 + damping * variations.damping;
        for mode in &mut model.modes {
            mode.residue *= gain;
        }
        if let Some(rigid) = &mut model.rigid {
            rigid.gain *= gain;
        }
        model
    }

    /// The largest |L| at each frequency over sampled plants.
    fn sampled(&self, grid: &[f64]) -> Vec<f64> {
        let mut largest = vec![0.0f64; grid.len()];
        for k in -60..=60 {
            for damping in [-1.0, 0.0, 1.0] {
                let model = self.strayed([f64::from(k) / 60.0, damping, 1.0]);
                let open = OpenLoop {
                    plant: Plant::Model(&model),
                    ..self.open()
                };
                for (largest, f) in largest.iter_mut().zip(grid) {
                    *largest = largest.max(open.at(*f).norm());
                }
            }
        }
        largest
    }
}

fn notch(frequency: f64, q: f64, gain: f64) -> Transfer {
    Transfer {
        num: vec![1.0, gain / q, 1.0],
        den: vec![1.0, 1.0 / q, 1.0],
        omega: TAU * frequency,
    }
}

/// The least phase of all notches on grids that close in three to one; a full null where `full`.
fn brute(case: &Case, grid: &[f64], largest: &[f64], full: bool) -> Option<f64> {
    let wish = &case.wish;
    let crossover = wish.crossover.expect("given");
    let holds = |f: f64, q: f64, d: f64| {
        let variations = [-1.0, 0.0, 1.0].map(|df| {
            [-1.0, 1.0].map(|dq| {
                notch(
                    f * (1.0 + df * wish.notch_frequency),
                    q * (1.0 + dq * wish.notch_q),
                    d,
                )
            })
        });
        grid.iter().zip(largest).all(|(f, largest)| {
            variations
                .iter()
                .flatten()
                .all(|n| largest * n.at(*f).norm() <= wish.level)
        })
    };
    let own = case.model.modes[0].frequency;
    let (mut f, mut q, mut d) = (own, 3.0, 0.03);
    let (mut step_f, mut step_q, mut step_d) = (0.03, 0.7, 0.7);
    let mut best: Option<f64> = None;
    for _ in 0..14 {
        let centre = (f, q, d);
        for i in -5..=5 {
            for k in -5..=5 {
                let (f1, d1) = (
                    centre.0 * (step_f * f64::from(i)).exp(),
                    centre.2 * (step_d * f64::from(k)).exp(),
                );
                let d1 = if full { 0.0 } else { d1.min(0.501) };
                for j in (-5..=5).rev() {
                    let q1 = (centre.1 * (step_q * f64::from(j)).exp()).min(100.0);
                    let u = f1 / crossover - crossover / f1;
                    if q1 < 0.3 || (q1 * u).powi(2) < d1 {
                        break;
                    }
                    let cost = notch(f1, q1, d1).phase_deg(crossover).abs();
                    if best.is_some_and(|b| cost >= b) || !holds(f1, q1, d1) {
                        continue;
                    }
                    best = Some(cost);
                    (f, q, d) = (f1, q1, d1.max(1e-6));
                }
            }
        }
        (step_f, step_q, step_d) = (step_f * 0.55, step_q * 0.55, step_d * 0.7);
    }
    best
}

/// |L| at any sampled place of both boxes, over the level.
fn violation(case: &Case, advice: &Advice, draw: &mut Draw) -> f64 {
    let Some(found) = advice.notch else {
        return 0.0;
    };
    let gain = found.depth_db.map_or(0.0, |db| 10f64.powf(-db / 20.0));
    let mut worst = 0.0f64;
    for number in 0..150 {
        // The box's corners and edges first.
        let mut side = |k: u32| match (number < 75, draw.one_of(k)) {
            (true, 0) => -1.0,
            (true, 1) => 1.0,
            _ => draw.even(-1.0, 1.0),
        };
        let variations = [side(3), side(3), side(2)];
        let (df, dq) = (side(3), side(3));
        let model = case.strayed(variations);
        let open = OpenLoop {
            plant: Plant::Model(&model),
            ..case.open()
        };
        let variation = notch(
            found.frequency * (1.0 + df * case.wish.notch_frequency),
            found.q * (1.0 + dq * case.wish.notch_q),
            gain,
        );
        for f in log_grid(advice.range.0, advice.range.1, 400) {
            worst = worst.max((open.at(f) * variation.at(f)).norm());
        }
    }
    worst / case.wish.level
}

#[test]
fn notches_are_those_of_brute_force_and_hold_everywhere() {
    let mut draw = Draw::new(11);
    let mut variations = Draw::new(14);
    let (mut found, mut needless, mut none) = (0, 0, 0);
    let mut number = 0;
    while found < 32 {
        number += 1;
        assert!(number < 400, "{found} {needless} {none}");
        let case = Case::drawn(&mut draw);
        let advice = advise(&case.open(), &case.wish).expect("advice");
        let excess = violation(&case, &advice, &mut variations);
        assert!(excess <= 1.0 + 1e-9, "{number}: {excess}");
        if advice.verdict == NotchVerdict::NotNeeded {
            needless += 1;
            continue;
        }
        let grid = log_grid(advice.range.0, advice.range.1, 100);
        let largest = case.sampled(&grid);
        for (full, ours) in [(false, advice.notch), (true, advice.full_null)] {
            let theirs = brute(&case, &grid, &largest, full);
            let (Some(ours), Some(theirs)) = (ours, theirs) else {
                assert!(
                    ours.is_none() && theirs.is_none(),
                    "{number}: {ours:?} {theirs:?}"
                );
                none += usize::from(!full);
                continue;
            };
            let apart = ours.cost_deg.abs() - theirs;
            assert!(apart.abs() < 0.1, "{number} {full}: {ours:?} {theirs}");
            found += usize::from(!full);
        }
    }
}

/// Less gain, a low-pass and the distance to −1, each against sampled plants.
#[test]
fn ways_without_a_notch_hold_everywhere() {
    let mut draw = Draw::new(12);
    let (mut low_passes, mut kept) = (0, 0);
    for number in 0..60 {
        let case = Case::drawn(&mut draw);
        let advice = advise(&case.open(), &case.wish).expect("advice");
        let Some(otherwise) = advice.otherwise else {
            assert_eq!(advice.verdict, NotchVerdict::NotNeeded);
            continue;
        };
        let level = case.wish.level;
        let grid = log_grid(advice.range.0, advice.range.1, 1500);
        let largest = case.sampled(&grid);
        let highest = largest.iter().copied().fold(0.0, f64::max);
        let left = highest * otherwise.lower.factor / level;
        assert!((0.98..=1.0 + 1e-9).contains(&left), "{number}: {left}");
        for low_pass in &otherwise.low_passes {
            let transfer = low_pass.transfer();
            let left = (grid.iter().zip(&largest))
                .map(|(f, l)| l * transfer.at(*f).norm() / level)
                .fold(0.0, f64::max);
            assert!((0.98..=1.0 + 1e-6).contains(&left), "{number}: {left}");
            low_passes += 1;
        }
        let mut nearest = f64::INFINITY;
        for k in 0..400 {
            let side = |n: i32| f64::from(n - 1);
            let variations = [
                f64::from(k % 100) / 49.5 - 1.0,
                side(k / 100 % 3),
                draw.even(-1.0, 1.0),
            ];
            let model = case.strayed(variations);
            let open = OpenLoop {
                plant: Plant::Model(&model),
                ..case.open()
            };
            for f in grid.iter().step_by(3) {
                nearest = nearest.min((1.0 + open.at(*f)).norm());
            }
            if otherwise.phase.holds && k % 40 == 0 {
                let (low, high) = whole_range(&open);
                let integrators = model.rigid.map_or(0, |r| r.integrators);
                let poles = OpenPoles {
                    right: 0,
                    at_origin: integrators as usize,
                };
                let count = unstable_poles(&trace(&open, low, high), model.delay, poles);
                assert_eq!(count, Some(0), "{number}");
                kept += 1;
            }
        }
        let distance = otherwise.phase.distance;
        assert!(distance <= nearest + 1e-3, "{number}: {distance} {nearest}");
        assert!(
            nearest - distance < 0.1 * (1.0 + distance),
            "{number}: {distance} {nearest}"
        );
    }
    assert!(low_passes > 20 && kept > 20, "{low_passes} {kept}");
}

/// A suspension inside the band: a notch there gives phase at the crossover.
#[test]
fn a_notch_below_the_crossover_gives_lead() {
    let omega = TAU * 20.0;
    let model = Model {
        rigid: None,
        modes: vec![Mode {
            frequency: 20.0,
            damping: 0.02,
            residue: omega * omega,
            slope: 0.0,
        }],
        ..Model::default()
    };
    let lead = Transfer {
        num: vec![100.0, 400.0],
        den: vec![1.0, 0.25],
        omega: TAU * 400.0,
    };
    let open = OpenLoop {
        stages: vec![&lead],
        plant: Plant::Model(&model),
        sign: 1.0,
    };
    let wish = NotchWish {
        mode: 0,
        variations: PlantVariations {
            frequency: 0.02,
            damping: 0.3,
            gain: 0.1,
        },
        notch_frequency: 0.01,
        notch_q: 0.05,
        level: 500.0,
        crossover: None,
        phase_margin: 45.0,
        sensitivity: 2.0,
    };
    let advice = advise(&open, &wish).expect("advice");
    assert!(advice.crossover > 100.0, "{advice:?}");
    assert_eq!(advice.verdict, NotchVerdict::Notch);
    let notch = advice.notch.expect("a notch");
    assert!(notch.cost_deg < 0.0 && notch.worst_db < advice.level_db + 1e-6);
    assert!(
        advice
            .told
            .iter()
            .any(|t| t.contains("instead of taking any")),
        "{:?}",
        advice.told
    );
    // And no sentence about a loop that is opened, as the level is above 1.
    assert_eq!(advice.told.len(), 3, "{:?}", advice.told);
}

/// An integrator that would cross over at 100 Hz, with a mode.
fn integrator(frequency: f64, damping: f64, height: f64) -> Model {
    let omega = TAU * frequency;
    Model {
        rigid: Some(Rigid::new(1, TAU * 100.0)),
        modes: vec![Mode {
            frequency,
            damping,
            residue: height * 2.0 * damping * omega * omega,
            slope: 0.0,
        }],
        ..Model::default()
    }
}

#[test]
fn a_peak_near_the_crossover_gets_other_advice() {
    let advice = |model: &Model, level: f64| {
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(model),
            sign: 1.0,
        };
        let wish = NotchWish {
            mode: 0,
            variations: PlantVariations {
                frequency: 0.03,
                damping: 0.2,
                gain: 0.1,
            },
            notch_frequency: 0.01,
            notch_q: 0.05,
            level,
            crossover: None,
            phase_margin: 90.0,
            sensitivity: 2.0,
        };
        advise(&open, &wish).expect("advice")
    };
    // Grown together with the band: the crossover is still below.
    let joined = advice(&integrator(150.0, 0.01, 11.0), 0.7);
    assert!((80.0..150.0).contains(&joined.crossover), "{joined:?}");
    assert_eq!(joined.verdict, NotchVerdict::TooDear, "{:?}", joined.told);
    let within = advice(&integrator(101.0, 0.03, 0.1), 0.5);
    assert_eq!(
        within.verdict,
        NotchVerdict::AtCrossover,
        "{:?}",
        within.told
    );
    // Even without its peak |L| is above this level.
    let none = advice(&integrator(150.0, 0.01, 11.0), 0.02);
    assert_eq!(none.verdict, NotchVerdict::None, "{:?}", none.told);
    for advice in [&joined, &within, &none] {
        let otherwise = advice.otherwise.as_ref().expect("other ways");
        assert!(otherwise.lower.crossover.expect("one") < 100.0);
    }
    // Far above and in phase with the integrator's lag, a peak may stand.
    let far = advice(&integrator(3000.0, 0.01, 0.8), 0.5);
    assert!(far.otherwise.expect("other ways").phase.holds);
}

/// No wish makes it panic, and what comes out is finite.
#[test]
fn odd_wishes_are_answered() {
    let mut draw = Draw::new(13);
    let odd = [
        0.0,
        1e-300,
        1e-9,
        0.5,
        0.95,
        1.0,
        1e9,
        1e300,
        f64::NAN,
        f64::INFINITY,
        -1.0,
    ];
    let (mut answered, mut refused) = (0, 0);
    for _ in 0..300 {
        let mut case = Case::drawn(&mut draw);
        for _ in 0..2 {
            let value = odd[draw.one_of(odd.len() as u32) as usize];
            let model = &mut case.model;
            match draw.one_of(12) {
                0 => case.wish.variations.frequency = value,
                1 => case.wish.variations.damping = value,
                2 => case.wish.variations.gain = value,
                3 => case.wish.notch_frequency = value,
                4 => case.wish.notch_q = value,
                5 => case.wish.level = value,
                6 => case.wish.crossover = Some(value),
                7 => case.wish.sensitivity = value,
                8 => model.modes[0].damping = value,
                9 => model.modes[0].frequency = value,
                10 => model.modes[0].residue = value,
                _ => case.wish.crossover = None,
            }
        }
        match advise(&case.open(), &case.wish) {
            Ok(advice) => {
                answered += 1;
                assert!(
                    advice.without_db.is_finite() || advice.without_db < 0.0,
                    "{advice:?}"
                );
                let finite = advice
                    .notch
                    .is_none_or(|n| n.q.is_finite() && n.cost_deg.is_finite());
                assert!(finite, "{advice:?}");
            }
            Err(error) => {
                refused += 1;
                assert!(error.to_string().ends_with('.'), "{error}");
            }
        }
    }
    assert!(answered > 50 && refused > 50, "{answered} {refused}");
}
