//! Curves, poles and time responses against SciPy and mpmath (tests/reference/responses.py).

use num_complex::Complex64;
use polewright::response::{Transfer, Way, deepest, first_crossing, resolving_grid, step_response};
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    frequencies_hz: Vec<f64>,
    times_s: Vec<f64>,
    systems: Vec<System>,
}

#[derive(Deserialize)]
struct System {
    name: String,
    numerator: Vec<f64>,
    denominator: Vec<f64>,
    magnitude: Vec<f64>,
    phase_rad: Vec<f64>,
    group_delay_s: Vec<f64>,
    step: Vec<f64>,
    poles: Vec<[f64; 2]>,
    zeros: Vec<[f64; 2]>,
}

impl System {
    /// The same function in the scale that the program would use.
    fn transfer(&self) -> Transfer {
        let omega = 1e4f64;
        let scaled = |c: &[f64]| {
            c.iter()
                .enumerate()
                .map(|(k, c)| c * omega.powi(k as i32))
                .collect()
        };
        Transfer {
            num: scaled(&self.numerator),
            den: scaled(&self.denominator),
            omega,
        }
    }
}

#[test]
fn magnitude_phase_and_group_delay() {
    let reference: Reference = super::reference::read("responses");
    for system in &reference.systems {
        let h = system.transfer();
        for (k, &f) in reference.frequencies_hz.iter().enumerate() {
            let at = h.at(f);
            let expected = Complex64::from_polar(system.magnitude[k], system.phase_rad[k]);
            assert!(
                (at - expected).norm() < 1e-9 * expected.norm().max(1e-3),
                "{} at {f} Hz",
                system.name
            );
            let (delay, wanted) = (h.group_delay(f), system.group_delay_s[k]);
            assert!(
                (delay - wanted).abs() < 1e-8 * wanted.abs() + 1e-13,
                "{} at {f} Hz: {delay} against {wanted}",
                system.name
            );
        }
    }
}

#[test]
fn answers_to_a_step() {
    let reference: Reference = super::reference::read("responses");
    let dt = reference.times_s[1] - reference.times_s[0];
    assert_eq!(reference.times_s[0], 0.0);
    for system in &reference.systems {
        let found = step_response(&[&system.transfer()], dt, reference.times_s.len());
        for (k, (a, b)) in found.iter().zip(&system.step).enumerate() {
            assert!(
                (a - b).abs() < 1e-6,
                "{} at sample {k}: {a} against {b}",
                system.name
            );
        }
    }
}

#[test]
fn poles_and_zeros() {
    let reference: Reference = super::reference::read("responses");
    for system in &reference.systems {
        let h = system.transfer();
        // A double root is only known to the root of the precision (Wilkinson).
        let close = if system.name.contains("double") {
            1e-6
        } else {
            1e-9
        };
        for (found, expected) in [(h.poles(), &system.poles), (h.zeros(), &system.zeros)] {
            assert_eq!(found.len(), expected.len(), "{}", system.name);
            for &[re, im] in expected {
                let wanted = Complex64::new(re, im);
                let nearest = found
                    .iter()
                    .map(|p| (p - wanted).norm())
                    .fold(f64::INFINITY, f64::min);
                assert!(
                    nearest < close * wanted.norm().max(1.0),
                    "{}: {wanted} off by {nearest}",
                    system.name
                );
            }
        }
    }
}

/// A notch of quality `q` at 1 kHz that falls to `depth` there.
fn notch(q: f64, depth: f64) -> Transfer {
    Transfer {
        num: vec![1.0, depth / q, 1.0],
        den: vec![1.0, 1.0 / q, 1.0],
        omega: std::f64::consts::TAU * 1e3,
    }
}

#[test]
fn figures_read_off_a_notch() {
    // |H| = 1/√2 where |x − 1/x| = 1/Q for a full null: edges are f0·(√(1 + 1/4Q²) ∓ 1/2Q)
    // (Zumbahlen, "Linear Circuit Design Handbook", ch. 8, from memory).
    for q in [0.5, 2.0, 30.0] {
        let h = notch(q, 0.0);
        let f0 = deepest(&h, (125.0, 8000.0), 48).expect("a deepest point");
        assert!((f0 - 1e3).abs() < 1e-8, "{f0}");
        let half = 0.5 / q;
        for (direction, sign) in [(Way::Down, -1.0), (Way::Up, 1.0)] {
            let edge = first_crossing(&h, f0, 0.5f64.sqrt(), direction, None).expect("an edge");
            let expected = 1e3 * ((1.0 + half * half).sqrt() + sign * half);
            assert!(
                (edge / expected - 1.0).abs() < 1e-11,
                "{edge} against {expected}"
            );
        }
    }
    let low_pass = Transfer {
        num: vec![1.0],
        den: vec![1.0, 1.0],
        omega: 1.0,
    };
    assert_eq!(deepest(&low_pass, (0.01, 100.0), 48), None);
}

#[test]
fn the_grid_reaches_the_bottom() {
    let h = notch(2.0, 1e-4);
    let roots: Vec<Complex64> = h.zeros().into_iter().chain(h.poles()).collect();
    let grid = resolving_grid(100.0, 10e3, 181, &roots);
    assert!(grid.windows(2).all(|w| w[0] < w[1]));
    assert!(grid.len() < 400, "{}", grid.len());
    let lowest = grid
        .iter()
        .map(|&f| h.magnitude_db(f))
        .fold(f64::INFINITY, f64::min);
    assert!((lowest + 80.0).abs() < 0.5, "{lowest} dB");
}
