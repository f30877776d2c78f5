//! Loops: margins against python-control and root finding in SciPy (tests/reference/loops.py), Nyquist's
//! count against the poles of the closed loop.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::feedback::{Margins, OpenLoop, OpenPoles, trace, unstable_poles, whole_range};
use polewright::plant::{Mode, Model, Plant, Rigid};
use polewright::response::{StateSpace, Transfer};
use serde::Deserialize;

use crate::reference;

use super::draw::Draw;

#[derive(Deserialize)]
struct Reference {
    loops: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    stages: Vec<Stage>,
    plant: Model,
    omega: f64,
    delayed: bool,
    gain_crossings: Vec<(f64, f64)>,
    phase_crossings: Vec<(f64, f64)>,
    sensitivity_peak: (f64, f64),
    complementary_peak: (f64, f64),
    bandwidth: Option<f64>,
    rejection_band: Option<f64>,
}

#[derive(Deserialize)]
struct Stage {
    num: Vec<f64>,
    den: Vec<f64>,
}

fn apart(a: f64, b: f64) -> f64 {
    (a / b - 1.0).abs()
}

#[test]
fn margins_agree_with_python_control() {
    let reference: Reference = reference::read("loops");
    let (mut crossings, mut figures) = (Vec::new(), Vec::new());
    for (number, case) in reference.loops.iter().enumerate() {
        let stages: Vec<Transfer> = case
            .stages
            .iter()
            .map(|stage| Transfer {
                num: stage.num.clone(),
                den: stage.den.clone(),
                omega: case.omega,
            })
            .collect();
        let open = OpenLoop {
            stages: stages.iter().collect(),
            plant: Plant::Model(&case.plant),
            sign: 1.0,
        };
        let traced = trace(&open, 1e-2, 1e6);
        let found = Margins::read(&open, &traced);
        assert_eq!(
            found.gain_crossings.len(),
            case.gain_crossings.len(),
            "{number}"
        );
        for (found, (frequency, margin)) in found.gain_crossings.iter().zip(&case.gain_crossings) {
            let turn = (found.phase_margin - margin + 180.0).rem_euclid(360.0) - 180.0;
            crossings.extend([apart(found.frequency, *frequency), turn.abs() / 180.0]);
        }
        // Every delayed loop crosses without end; margins of 60 dB and more are not looked for.
        let near = |margin: f64| margin < 900.0;
        let phase: Vec<_> = found
            .phase_crossings
            .iter()
            .filter(|c| near(c.gain_margin))
            .collect();
        let theirs: Vec<_> = case.phase_crossings.iter().filter(|c| near(c.1)).collect();
        assert_eq!(phase.len(), theirs.len(), "{number} {}", case.delayed);
        for (found, (frequency, margin)) in phase.iter().zip(theirs) {
            crossings.extend([
                apart(found.frequency, *frequency),
                apart(found.gain_margin, *margin),
            ]);
        }
        let peaks = [
            (found.sensitivity_peak, case.sensitivity_peak),
            (found.complementary_peak, case.complementary_peak),
        ];
        for (found, theirs) in peaks {
            let found = found.expect("a peak");
            figures.push(apart(found.0, theirs.0));
            // Where a curve is flat on top, its height says nothing on the last digits of the place.
            assert!(
                apart(found.1, theirs.1) < 1e-4 || theirs.0 < 1.01,
                "{number}"
            );
        }
        for (found, theirs) in [
            (found.bandwidth, case.bandwidth),
            (found.rejection_band, case.rejection_band),
        ] {
            assert_eq!(found.is_some(), theirs.is_some(), "{number}");
            figures.extend(found.zip(theirs).map(|(a, b)| apart(a, b)));
        }
    }
    crossings.sort_by(f64::total_cmp);
    figures.sort_by(f64::total_cmp);
    assert!(crossings.len() > 200 && figures.len() > 200);
    assert!(*figures.last().expect("some") < 1e-6, "{figures:?}");
    // Long polynomials cost python-control digits of a few crossings (the script compares it with SciPy).
    assert!(crossings[crossings.len() * 95 / 100] < 1e-8);
    assert!(*crossings.last().expect("some") < 1e-5);
}

fn corners(zero: f64, pole: f64) -> Transfer {
    Transfer {
        num: vec![1.0, 1.0 / zero],
        den: vec![1.0, 1.0 / pole],
        omega: TAU,
    }
}

/// e^(−s·delay) as a rational function of this order (Golub and Van Loan, "Matrix Computations", 9.3:
/// diagonal Padé), one section a pair of poles so that nothing is multiplied out: sections from the roots of
/// the reverse Bessel polynomial, found by Newton with deflation.
fn pade(delay: f64, order: usize) -> StateSpace {
    // q_k = (2n−k)!·n!/((2n)!·k!·(n−k)!), by recursion.
    let mut q = vec![1.0];
    for k in 0..order {
        let (n, k) = (order as f64, k as f64);
        q.push(q[q.len() - 1] * (n - k) / ((2.0 * n - k) * (k + 1.0)));
    }
    let whole = Transfer {
        num: vec![1.0],
        den: q,
        omega: 1.0 / delay,
    };
    let poles = whole.poles();
    let sections = poles.iter().filter(|p| p.im > 0.0).map(|p| {
        let (size, sum) = (p.norm_sqr(), 2.0 * p.re);
        let omega = p.norm();
        let middle = -sum * omega / size;
        Transfer {
            num: vec![1.0, -middle, 1.0],
            den: vec![1.0, middle, 1.0],
            omega,
        }
    });
    sections.fold(StateSpace::gain(1.0), |row, section| {
        row.then(&StateSpace::of(&section).expect("proper"))
    })
}

#[test]
fn nyquist_counts_the_poles_of_ten_thousand_closed_loops() {
    let mut draw = Draw::new(4);
    let (mut stable, mut unstable, mut delayed) = (0, 0, 0);
    for number in 0..10_000 {
        let crossover = draw.corner(100.0, 1000.0);
        let mut stages = vec![
            corners(
                crossover * draw.corner(0.1, 1.0),
                crossover * draw.corner(1.0, 10.0),
            ),
            corners(
                crossover * draw.corner(0.05, 1.0),
                crossover * draw.corner(0.5, 20.0),
            ),
        ];
        let integrates = draw.one_of(2) == 1;
        if integrates {
            stages.push(Transfer {
                num: vec![TAU * crossover / draw.corner(2.0, 20.0), 1.0],
                den: vec![0.0, 1.0],
                omega: 1.0,
            });
        }
        let integrators = draw.one_of(4);
        let mut model = Model {
            rigid: (integrators < 3).then_some(Rigid::new(integrators, 1.0)),
            modes: Vec::new(),
            lag: Some(crossover * draw.corner(2.0, 50.0)),
            delay: 0.0,
        };
        let modes = draw.one_of(4) + u32::from(model.rigid.is_none());
        let line = (TAU * crossover).powi(2 - integrators.min(2) as i32);
        for _ in 0..modes {
            model.modes.push(Mode {
                frequency: crossover * draw.corner(0.05, 10.0),
                damping: draw.corner(0.003, 0.7),
                residue: draw.even(-0.4, 1.0) * line,
                slope: 0.0,
            });
        }
        let mut open = OpenLoop {
            stages: stages.iter().collect(),
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let size = open.at(crossover).norm();
        open.sign = draw.corner(0.2, 5.0) / size;
        if draw.one_of(10) == 0 {
            open.sign = -open.sign;
        }
        let sign = open.sign;
        if draw.one_of(2) == 1 {
            // Where the loop still has a say the delay turns by 4 rad at most: Padé's order 12 holds there.
            let range = whole_range(&open);
            let traced = trace(&open, range.0, range.1);
            let last = traced.iter().rev().find(|t| t.open.norm() > 0.3);
            let last = last.map_or(crossover, |t| t.frequency);
            model.delay = draw.even(0.0, 4.0) / (TAU * last);
            delayed += 1;
        }
        let open = OpenLoop {
            stages: stages.iter().collect(),
            plant: Plant::Model(&model),
            sign,
        };
        let (low, high) = whole_range(&open);
        let at_origin = integrators.min(3) % 3 + u32::from(integrates);
        let poles = OpenPoles {
            right: 0,
            at_origin: at_origin as usize,
        };
        let counted = unstable_poles(&trace(&open, low, high), model.delay, poles);
        let mut states = open.states().expect("a proper loop");
        if model.delay > 0.0 {
            states = states.then(&pade(model.delay, 12));
        }
        let closed = states.closed().expect("closable").poles();
        let right = closed.iter().filter(|p| p.re > 0.0).count();
        let nearest = closed
            .iter()
            .map(|p: &Complex64| p.re / p.norm())
            .fold(f64::NEG_INFINITY, f64::max);
        assert_eq!(counted, Some(right), "loop {number}: nearest {nearest}");
        if right == 0 {
            stable += 1;
        } else {
            unstable += 1;
        }
    }
    assert!(
        stable > 1500 && unstable > 1500 && delayed > 3000,
        "{stable} {unstable} {delayed}"
    );
}

/// K/(s(s + 1)(s + 5)): Ogata, "Modern Control Engineering", the example on the phase and gain margins for K = 10
/// (21° and 8 dB) and K = 100 (−30° and −12 dB), from memory; the book reads them off a straight-line chart.
#[test]
fn margins_of_ogatas_example() {
    for (gain, phase, decibel, unstable) in [(10.0, 21.0, 8.0, 0), (100.0, -30.0, -12.0, 2)] {
        let model = Model {
            rigid: Some(Rigid::new(1, gain / 5.0)),
            lag: Some(1.0 / TAU),
            ..Model::default()
        };
        let lag = corners(f64::INFINITY, 5.0 / TAU);
        let open = OpenLoop {
            stages: vec![&lag],
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let (low, high) = whole_range(&open);
        let traced = trace(&open, low, high);
        let found = Margins::read(&open, &traced);
        let margin = found.phase_margin().expect("a crossing").phase_margin;
        assert!((margin - phase).abs() < 7.0, "{margin}");
        let margin = found.phase_crossings[0].gain_margin;
        assert!((20.0 * margin.log10() - decibel).abs() < 2.0, "{margin}");
        // Routh's criterion on s³ + 6s² + 5s + K.
        assert!(apart(margin, 30.0 / gain) < 1e-9);
        assert_eq!(
            unstable_poles(
                &traced,
                0.0,
                OpenPoles {
                    right: 0,
                    at_origin: 1
                }
            ),
            Some(unstable)
        );
    }
}
