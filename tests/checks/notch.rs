//! The multiple-feedback notch against its closed form and against what is published of it.

use polewright::parts::OpAmp;
use polewright::stages::{Ask, Depth, Model, NotchAsk, by_id};

const OHM: [f64; 4] = [1.7e3, 27.2e3, 1.1e3, 8.8e3];

fn model(ask: &NotchAsk, op_amp: &OpAmp) -> Model {
    let stage = by_id("mfb-notch").expect("the stage");
    Model::new(stage, &Ask::Notch(ask.clone()), op_amp).expect("a circuit with an answer")
}

/// Values in the netlist's order: R1, C1, C2, R2, R3, R4, op amp.
fn values([r1, r2, r3, r4]: [f64; 4], c1: f64, c2: f64) -> Vec<f64> {
    vec![r1, c1, c2, r2, r3, r4, 0.0]
}

fn figure(model: &Model, values: &[f64], name: &str) -> f64 {
    let figures = model.yardstick.figures();
    let at = figures.iter().position(|f| f.name == name);
    model.figures(values, None, &mut Default::default())[at.expect("a figure")]
}

/// The closed form with an ideal op amp, k = R4/(R3 + R4): nodal analysis by hand.
fn closed_form(v: &[f64], f: f64) -> num_complex::Complex64 {
    let [r1, c1, c2, r2, r3, r4] = [v[0], v[1], v[2], v[3], v[4], v[5]];
    let s = num_complex::Complex64::new(0.0, std::f64::consts::TAU * f);
    let k = r4 / (r3 + r4);
    let num = k + s * (k * (r2 * c2 + r1 * (c1 + c2)) - r2 * c2) + s * s * k * r1 * r2 * c1 * c2;
    let den = 1.0 + s * r1 * (c1 + c2) + s * s * r1 * r2 * c1 * c2;
    num / den
}

#[test]
fn netlist_gives_the_closed_form() {
    let model = model(&NotchAsk::default(), &OpAmp::IDEAL);
    for (c1, c2) in [(10e-9, 10e-9), (4.7e-9, 22e-9), (100e-9, 1e-9)] {
        let values = values(OHM, c1, c2);
        let h = model.transfer(&values);
        for exponent in -20..40 {
            let f = 1e3 * 10f64.powf(f64::from(exponent) / 10.0);
            let expected = closed_form(&values, f);
            assert!(
                (h.at(f) - expected).norm() < 1e-12 * expected.norm().max(1e-3),
                "{f} Hz"
            );
        }
    }
}

#[test]
fn published_frequency_q_and_null() {
    // For equal capacitors: f0 = 1/(2πC√(R1·R2)) and Q = ½√(R2/R1), the design equations of the
    // multiple-feedback band-pass (Franco, 3rd ed., ch. 3; "Op Amps for Everyone", ch. 16; from memory),
    // and the null is complete when the divider passes 2Q²/(2Q² + 1), as the band-pass gain −2Q² at
    // f0 demands.
    for q in [0.6f64, 2.0, 12.0] {
        let (c, r1) = (10e-9, 1.5e3);
        let r2 = 4.0 * q * q * r1;
        let k = 2.0 * q * q / (2.0 * q * q + 1.0);
        let r3 = 1e3;
        let f0 = 1.0 / (std::f64::consts::TAU * c * (r1 * r2).sqrt());
        let ask = NotchAsk {
            frequency: f0,
            q,
            ..NotchAsk::default()
        };
        let model = model(&ask, &OpAmp::IDEAL);
        let values = values([r1, r2, r3, r3 * k / (1.0 - k)], c, c);
        assert!((figure(&model, &values, "notch-frequency") / f0 - 1.0).abs() < 1e-10);
        assert!(
            (figure(&model, &values, "q") / q - 1.0).abs() < 1e-9,
            "Q {q}"
        );
        assert!(figure(&model, &values, "depth-db") > 200.0);
        let gain = 20.0 * k.log10();
        assert!((figure(&model, &values, "gain-low-db") - gain).abs() < 2e-3);
        assert!((figure(&model, &values, "gain-high-db") - gain).abs() < 2e-3);
    }
}

#[test]
fn design_equations_meet_any_ask() {
    for (frequency, q, depth, c1, c2) in [
        (2350.0, 2.0, Depth::FullNull(()), 3.3e-9, 3.3e-9),
        (50.0, 0.7, Depth::FullNull(()), 100e-9, 22e-9),
        (12e3, 5.0, Depth::Decibel(30.0), 1e-9, 2.2e-9),
        (400.0, 1.0, Depth::Decibel(12.0), 47e-9, 33e-9),
    ] {
        let ask = NotchAsk {
            frequency,
            q,
            depth,
            least_depth: 10.0,
            ..NotchAsk::default()
        };
        let model = model(&ask, &OpAmp::IDEAL);
        let mut values = values(OHM, c1, c2);
        model.stage.solve(&model.ask, &mut values);
        assert!((figure(&model, &values, "notch-frequency") / frequency - 1.0).abs() < 1e-9);
        assert!(
            (figure(&model, &values, "q") / q - 1.0).abs() < 1e-9,
            "{}",
            figure(&model, &values, "q")
        );
        let found = figure(&model, &values, "depth-db");
        match depth {
            Depth::Decibel(db) => assert!((found - db).abs() < 1e-6, "{found} against {db}"),
            Depth::FullNull(()) => assert!(found > 200.0),
        }
    }
}

#[test]
fn a_real_op_amp_is_compensated() {
    // 50 kHz and Q 3 want 0.9 MHz of inner gain: with 10 MHz the closed form misses, the exact solution does not.
    let ask = NotchAsk {
        frequency: 50e3,
        q: 3.0,
        ..NotchAsk::default()
    };
    let model = model(&ask, &OpAmp::default());
    let mut plain = values(OHM, 1e-9, 1e-9);
    model.stage.solve(&model.ask, &mut plain);
    let miss = |values: &[f64]| {
        let terms = model.terms(values, None, &mut Default::default());
        model.term_shape().miss(&terms)
    };
    let solved = polewright::pick::solve(
        &model,
        &plain,
        &[false; 7],
        1e-9,
        None,
        &mut Default::default(),
    )
    .expect("a solution");
    assert!(miss(&plain) > 0.1, "{}", miss(&plain));
    assert!(miss(&solved.values) < 1e-6, "{}", miss(&solved.values));
}
