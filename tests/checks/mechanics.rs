//! Plants as mechanics makes them, seen through noise: a mirror on bearings, a valve, a piezo stage, a speed. What
//! their low end is said to be, which modes are found, and how far both can be trusted.

use std::f64::consts::TAU;

use polewright::servo::{Fitted, LowEnd, Mode, Model, Point, Rigid, Settings, Sweep, fit};

use crate::draw::Draw;

/// A plant and its sweep.
pub struct Case {
    pub truth: Model,
    pub noise: f64,
    pub sweep: Sweep,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Class {
    Mirror,
    Valve,
    Piezo,
    Speed,
}

fn mode(frequency: f64, damping: f64, residue: f64) -> Mode {
    Mode {
        frequency,
        damping,
        residue,
        slope: 0.0,
    }
}

/// Modes one above the other, each so high against a smooth rest of `size` at its frequency.
fn modes(draw: &mut Draw, count: u32, first: f64, size: impl Fn(f64) -> f64) -> Vec<Mode> {
    let mut frequency = first;
    (0..count)
        .map(|_| {
            let damping = draw.corner(0.003, 0.04);
            let height = draw.corner(1.5, 40.0) * size(frequency);
            let sign = if draw.one_of(4) == 0 { -1.0 } else { 1.0 };
            let omega = TAU * frequency;
            let made = mode(
                frequency,
                damping,
                sign * height * 2.0 * damping * omega * omega,
            );
            frequency *= draw.corner(1.25, 2.5);
            made
        })
        .collect()
}

/// Frequencies from low to high: evenly over the logarithm, evenly, or evenly with more about each mode.
fn grid(draw: &mut Draw, low: f64, high: f64, rows: usize, modes: &[Mode]) -> Vec<f64> {
    let share = |i: usize| i as f64 / (rows - 1) as f64;
    let mut grid: Vec<f64> = match draw.one_of(3) {
        0 if rows > 400 => (0..rows).map(|i| low + (high - low) * share(i)).collect(),
        _ => (0..rows)
            .map(|i| low * (high / low).powf(share(i)))
            .collect(),
    };
    if draw.one_of(2) == 0 {
        for mode in modes {
            let around =
                (-8..=8).map(|i| mode.frequency * (1.0 + 0.4 * mode.damping * f64::from(i)));
            grid.extend(around.filter(|f| (low..high).contains(f)));
        }
    }
    grid.sort_by(f64::total_cmp);
    grid.dedup_by(|a, b| *a / *b < 1.0 + 1e-9);
    grid
}

impl Case {
    pub fn drawn(class: Class, seed: u64) -> Case {
        let mut draw = Draw::new(seed);
        let low = draw.corner(0.5, 20.0);
        let first = draw.corner(60.0, 400.0);
        let count = 1 + draw.one_of(3);
        let gain = draw.corner(1e-3, 1e3) * if draw.one_of(3) == 0 { -1.0 } else { 1.0 };
        let (rigid, modes) = match class {
            Class::Mirror => {
                // Friction within the sweep, at its edge, below, and none.
                let corner = low * draw.corner(0.003, 12.0);
                let friction = (draw.one_of(6) > 0).then_some(corner);
                let rigid = Rigid {
                    friction,
                    ..Rigid::new(2, gain)
                };
                let size = |f: f64| gain.abs() / (TAU * f).powi(2);
                (Some(rigid), modes(&mut draw, count, first * 3.0, size))
            }
            Class::Valve => {
                // A spool on its spring, more or less damped, and a mode with its antiresonance close by.
                let own = first * draw.corner(0.3, 1.0);
                let damping = draw.corner(0.06, 1.6);
                let omega = TAU * own;
                let mut all = vec![mode(own, damping, gain * omega * omega)];
                let size = |f: f64| gain.abs() * (own / f).powi(2);
                let mut further = modes(&mut draw, count, own * 4.0, size);
                for mode in &mut further {
                    mode.residue *= draw.corner(0.05, 0.5);
                }
                all.extend(further);
                (None, all)
            }
            Class::Piezo => {
                let size = |_: f64| gain.abs();
                let all = modes(&mut draw, count, first * 3.0, size);
                match draw.one_of(2) {
                    0 => (Some(Rigid::new(0, gain)), all),
                    _ => {
                        // All of the gain at rest is the first mode's.
                        let mut all = all;
                        let omega = TAU * all[0].frequency;
                        all[0].residue = gain * omega * omega;
                        (None, all)
                    }
                }
            }
            Class::Speed => {
                let corner = low * draw.corner(0.003, 12.0);
                let friction = (draw.one_of(4) > 0).then_some(corner);
                let rigid = Rigid {
                    friction,
                    ..Rigid::new(1, gain)
                };
                let size = |f: f64| gain.abs() / (TAU * f);
                (Some(rigid), modes(&mut draw, count, first * 3.0, size))
            }
        };
        let last = modes.iter().fold(0.0f64, |m, mode| m.max(mode.frequency));
        let high = last * draw.corner(1.3, 4.0);
        let truth = Model {
            rigid,
            modes,
            lag: None,
            delay: if draw.one_of(3) == 0 {
                0.0
            } else {
                draw.corner(0.01, 0.5) / high
            },
        };
        let rows = draw.corner(45.0, 4000.0) as usize;
        let noise = draw.corner(0.001, 0.02);
        let grid = grid(&mut draw, low, high, rows, &truth.modes);
        let point = |f: f64| Point::new(f, truth.at(f) * (1.0 + noise * draw.normal()));
        let sweep = Sweep {
            points: grid.into_iter().map(point).collect(),
        };
        Case {
            truth,
            noise,
            sweep,
        }
    }

    pub fn found(&self) -> Fitted {
        fit(&self.sweep, &Settings::default()).expect("a sweep that can be fitted")
    }
}

#[test]
#[ignore]
fn look() {
    for class in [Class::Mirror, Class::Valve, Class::Piezo, Class::Speed] {
        if std::env::var("CLASS").is_ok_and(|c| c != format!("{class:?}")) {
            continue;
        }
        let n = std::env::var("N")
            .ok()
            .and_then(|n| n.parse().ok())
            .unwrap_or(60);
        let (mut right, mut undecided, mut wrong, mut counts) = (0, 0, 0, 0);
        let mut slowest = (0.0, 0);
        let (mut total, mut within, mut sum, mut far, mut most_kept, mut worst) =
            (0, 0, 0.0, 0, 0, 0.0f64);
        let from = std::env::var("FROM")
            .ok()
            .and_then(|n| n.parse().ok())
            .unwrap_or(0);
        for seed in from..from + n {
            let case = Case::drawn(class, seed);
            let start = std::time::Instant::now();
            let found = case.found();
            let took = start.elapsed().as_secs_f64();
            if took > slowest.0 {
                slowest = (took, case.sweep.points.len());
            }
            let decision = found.decision.as_ref().expect("one");
            let (truth, said) = (LowEnd::of(&case.truth), decision.low_end);
            let same = truth == said;
            let same_type = truth.integrators_at_rest() == said.integrators_at_rest();
            if same {
                right += 1
            } else if !decision.is_decided {
                undecided += 1
            }
            if decision.is_decided && !same_type {
                wrong += 1;
            }
            let modes = found.model.modes.len() == case.truth.modes.len();
            if modes && same {
                let pairs = found
                    .model
                    .modes
                    .iter()
                    .zip(&found.uncertainties.modes)
                    .zip(&case.truth.modes);
                for ((m, u), t) in pairs {
                    let z = (m.frequency - t.frequency) / u.frequency;
                    let zd = (m.damping - t.damping) / u.damping;
                    let zr = (m.residue - t.residue) / u.residue;
                    total += 3;
                    within += [z, zd, zr].iter().filter(|z| z.abs() < 3.0).count();
                    sum += z * z + zd * zd + zr * zr;
                    if z.abs() > 4.0 || zd.abs() > 4.0 || zr.abs() > 4.0 {
                        println!(
                            "{class:?} {seed} mode {:?} off by {z:.1} {zd:.1} {zr:.1} rows {}",
                            t.frequency,
                            case.sweep.points.len()
                        );
                    }
                }
            }
            let kept = case.sweep.condensed(&found.model, 0.4);
            if case.sweep.points.len() > 400 {
                let again = fit(&kept, &Settings::default()).expect("fit");
                most_kept = most_kept.max(kept.points.len());
                let close = again.model.modes.len() == found.model.modes.len()
                    && again
                        .model
                        .modes
                        .iter()
                        .zip(&found.model.modes)
                        .zip(&found.uncertainties.modes)
                        .all(|((a, b), u)| {
                            let z = [
                                (a.frequency - b.frequency) / u.frequency,
                                (a.damping - b.damping) / u.damping,
                                (a.residue - b.residue) / u.residue,
                            ];
                            worst = z.iter().fold(worst, |w, z| w.max(z.abs()));
                            z.iter().all(|z| z.abs() < 1.0 / 3.0)
                        });
                if !close {
                    far += 1;
                    println!(
                        "{class:?} {seed} kept {} of {}: {:?} {:?} -> {:?} {:?}",
                        kept.points.len(),
                        case.sweep.points.len(),
                        LowEnd::of(&found.model),
                        found.model.modes.len(),
                        LowEnd::of(&again.model),
                        again.model.modes.len()
                    );
                }
            }
            if !modes {
                counts += 1
            }
            if !same || !modes {
                println!(
                    "{class:?} {seed}: {} rows from {:.2}, noise {:.4}, {took:.2} s, {truth:?} said {said:?} decided {} rms {:.4}",
                    case.sweep.points.len(),
                    case.sweep.points[0].frequency,
                    case.noise,
                    decision.is_decided,
                    found.rms
                );
                println!(
                    "   truth {:?} {:?} delay {:.2e}",
                    case.truth.rigid,
                    case.truth
                        .modes
                        .iter()
                        .map(|m| (m.frequency as f32, m.damping as f32, m.residue as f32))
                        .collect::<Vec<_>>(),
                    case.truth.delay
                );
                println!(
                    "   found {:?} {:?} delay {:.2e} lag {:?}",
                    found.model.rigid,
                    found
                        .model
                        .modes
                        .iter()
                        .map(|m| (
                            m.frequency as f32,
                            m.damping as f32,
                            m.residue as f32,
                            m.slope as f32
                        ))
                        .collect::<Vec<_>>(),
                    found.model.delay,
                    found.model.lag
                );
                println!(
                    "   rivals {:?}",
                    decision
                        .rivals
                        .iter()
                        .map(|r| (r.low_end, r.behind as f32))
                        .collect::<Vec<_>>()
                );
            }
        }
        println!(
            "== {class:?}: right {right}, undecided {undecided}, false type {wrong}, other mode count {counts}, slowest {slowest:?}; within 3 sigma {within} of {total}, rms z {:.3}; kept far {far}, most kept {most_kept}, worst {worst}",
            (sum / total as f64).sqrt()
        );
    }
}
