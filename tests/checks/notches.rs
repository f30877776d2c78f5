//! Every notch of the catalogue: what is published of it, and that a real op amp leaves it stable.

use num_complex::Complex64;
use polewright::parts::OpAmp;
use polewright::stages::{
    Ask, CATALOGUE, Model, NotchAsk, Scratch, Surroundings, UnevenNotchAsk, by_id,
};

use super::asks::Random;

fn model(id: &str, ask: &Ask, op_amp: &OpAmp) -> Model {
    Model::new(by_id(id).expect("the stage"), ask, op_amp).expect("a circuit")
}

/// Values by the design equations, with these capacitors everywhere and 10 kΩ where the level is free.
fn solved(model: &Model, capacitor: f64) -> Vec<f64> {
    let mut values: Vec<f64> = (0..model.netlist.parts().len())
        .map(|part| model.given(part))
        .collect();
    let grouping = model.stage.grouping();
    for &part in grouping.chosen.iter().copied().flatten() {
        values[part] = capacitor;
    }
    for &part in grouping.free.iter().copied().flatten() {
        values[part] = 10e3;
    }
    model.stage.solve(&model.ask, &mut values);
    values
}

fn figure(model: &Model, values: &[f64], name: &str) -> f64 {
    let figures = model.yardstick.figures();
    let at = figures.iter().position(|f| f.name == name);
    model.figures(values, None, &mut Scratch::default())[at.expect("a figure")]
}

fn part(model: &Model, values: &[f64], name: &str) -> f64 {
    values[model.netlist.position(name).expect("a part")]
}

const ACTIVE: [&str; 6] = [
    "mfb-notch",
    "subtracted-notch",
    "twin-t-notch",
    "gyrator-notch",
    "bainter-notch",
    "state-variable-notch",
];

#[test]
fn design_equations_meet_the_ask() {
    for id in ACTIVE {
        for (frequency, q) in [(2350.0, 2.0), (50.0, 0.9), (11e3, 6.0)] {
            let ask = Ask::Notch(NotchAsk {
                frequency,
                q,
                ..NotchAsk::default()
            });
            let model = model(id, &ask, &OpAmp::IDEAL);
            let values = solved(&model, 10e-9);
            let found = ["notch-frequency", "q", "depth-db"].map(|n| figure(&model, &values, n));
            assert!((found[0] / frequency - 1.0).abs() < 1e-9, "{id} {found:?}");
            assert!((found[1] / q - 1.0).abs() < 1e-8, "{id} {found:?}");
            assert!(found[2] > 150.0, "{id} {found:?}");
            let passband = model.transfer(&values).at(0.0);
            assert!(passband.re * f64::from(model.stage.sign()) > 0.0, "{id}");
        }
    }
}

#[test]
fn stable_with_a_real_op_amp() {
    for stage in CATALOGUE {
        if !matches!(stage.default_ask(), Ask::Notch(_) | Ask::UnevenNotch(_)) {
            continue;
        }
        for gain_bandwidth in [3e6, 10e6, 100e6] {
            let op_amp = OpAmp {
                gain_bandwidth,
                ..OpAmp::default()
            };
            let model = model(stage.id(), &stage.default_ask(), &op_amp);
            let poles = model.transfer(&solved(&model, 4.7e-9)).poles();
            assert!(
                poles.iter().all(|p| p.re < 0.0),
                "{} {gain_bandwidth}: {poles:?}",
                stage.id()
            );
        }
    }
}

#[test]
fn uneven_notches_meet_the_ask() {
    for (id, gain) in [
        ("bainter-uneven-notch", None),
        ("state-variable-uneven-notch", Some(0.7)),
    ] {
        for (null, frequency, q) in [(5e3, 3.5e3, 2.0), (1e3, 1.4e3, 0.8), (9e3, 6e3, 8.0)] {
            let natural = (null / frequency) * (null / frequency);
            let wanted = UnevenNotchAsk {
                null,
                frequency,
                q,
                gain: gain.unwrap_or(natural),
                ..UnevenNotchAsk::default()
            };
            let gain_db = 20.0 * wanted.gain.log10();
            let model = model(id, &Ask::UnevenNotch(wanted), &OpAmp::IDEAL);
            let values = solved(&model, 4.7e-9);
            for (name, expected) in [
                ("null-frequency", null),
                ("pole-frequency", frequency),
                ("q", q),
            ] {
                let found = figure(&model, &values, name);
                assert!((found / expected - 1.0).abs() < 1e-9, "{id} {name} {found}");
            }
            assert!((figure(&model, &values, "gain-db") - gain_db).abs() < 1e-9);
            assert!(figure(&model, &values, "ask-attenuation-db") > 150.0);
        }
    }
}

#[test]
fn published_design_equations() {
    let ask = Ask::Notch(NotchAsk::default());
    let tau = std::f64::consts::TAU;
    // Twin-T with its foot on a follower: f0 = 1/(2πRC), Q = 1/(4(1 − k)) ("Op Amps for Everyone",
    // ch. 16; Zumbahlen, ch. 8).
    let twin_t = model("twin-t-notch", &ask, &OpAmp::IDEAL);
    let values = solved(&twin_t, 10e-9);
    let [r, c, upper, lower] = ["R1", "C1", "R5", "R6"].map(|name| part(&twin_t, &values, name));
    assert!((1.0 / (tau * r * c) / 2350.0 - 1.0).abs() < 1e-12);
    let k = lower / (upper + lower);
    assert!((1.0 / (4.0 * (1.0 - k)) - 2.0).abs() < 1e-12);
    // The gyrator's inductance is R²C, and the resistor to it sets Q: with two of R_Q side by side
    // Q = R_Q/(2R) (inductance simulation after Antoniou; the notch's form from memory).
    let gyrator = model("gyrator-notch", &ask, &OpAmp::IDEAL);
    let values = solved(&gyrator, 10e-9);
    let [r, quality] = ["R1", "R5"].map(|name| part(&gyrator, &values, name));
    assert!((1.0 / (tau * r * 10e-9) / 2350.0 - 1.0).abs() < 1e-12);
    assert!((quality / (2.0 * r) - 2.0).abs() < 1e-12);
    // Bainter: the null's and the poles' frequencies are equal where R3 = R4 and R1 = R2, and the depth
    // does not hang on matching (Zumbahlen, ch. 8): a mistake of 5 % in any part leaves a null.
    let bainter = model("bainter-notch", &ask, &OpAmp::IDEAL);
    let exact = solved(&bainter, 10e-9);
    for part in 0..exact.len() {
        let mut values = exact.clone();
        values[part] *= 1.05;
        assert!(figure(&bainter, &values, "depth-db") > 150.0);
    }
    // Against it, 1 % in one part of the twin-T fills its null, by about Q/4 % of the passband: what
    // the page says there.
    for name in ["R1", "R3", "C1", "C4"] {
        let mut values = solved(&twin_t, 10e-9);
        values[twin_t.netlist.position(name).expect("a part")] *= 1.01;
        assert!((figure(&twin_t, &values, "depth-db") - 46.02).abs() < 0.2);
    }
    // State variable: Q is the same for any frequency, f0 = 1/(2πRC) (Zumbahlen, ch. 8).
    let state = model("state-variable-notch", &ask, &OpAmp::IDEAL);
    let values = solved(&state, 10e-9);
    let [r, upper, lower] = ["R6", "R4", "R5"].map(|name| part(&state, &values, name));
    assert!((1.0 / (tau * r * 10e-9) / 2350.0 - 1.0).abs() < 1e-12);
    assert!(((1.0 + upper / lower) / 3.0 - 2.0).abs() < 1e-12);
}

#[test]
fn passive_notches_are_as_poor_as_published() {
    // A passive twin-T has Q 0.25 between a stiff source and no load ("Op Amps for Everyone", ch. 16).
    let stiff = Surroundings {
        source: 1e-3,
        load: 1e12,
    };
    let ask = Ask::Notch(NotchAsk::default());
    let twin_t = model("passive-twin-t", &ask, &OpAmp::IDEAL).between(stiff);
    let values = solved(&twin_t, 10e-9);
    assert!((figure(&twin_t, &values, "q") - 0.25).abs() < 1e-6);
    assert!((figure(&twin_t, &values, "notch-frequency") / 2350.0 - 1.0).abs() < 1e-6);
    // The bridged-T leaves 2/(2 + C2/C1) of the signal.
    let bridged = model("bridged-t", &ask, &OpAmp::IDEAL).between(stiff);
    let mut values = solved(&bridged, 10e-9);
    values[bridged.netlist.position("C2").expect("C2")] = 100e-9;
    bridged.stage.solve(&bridged.ask, &mut values);
    let depth = 20.0 * (12.0f64 / 2.0).log10();
    assert!((figure(&bridged, &values, "depth-db") - depth).abs() < 1e-5);
}

/// Currents into the middle of the T and into the output, with nothing in front and behind:
/// (m − 1)/R1 + (m − h)/R2 + s·C2·m = 0 and (h − m)/R2 + s·C1·(h − 1) = 0. The second gives
/// m − 1 = (h − 1)·(1 + s·C1·R2), and with it the first h = 1 − s·C2·R1/(1 + s·(C1·(R1 + R2) + C2·R1) + s²·C1·C2·R1·R2).
#[test]
fn the_bridged_t_is_its_nodal_equations() {
    let stiff = Surroundings {
        source: 1e-6,
        load: 1e15,
    };
    let ask = Ask::Notch(NotchAsk::default());
    let bridged = model("bridged-t", &ask, &OpAmp::IDEAL).between(stiff);
    let mut random = Random(4);
    for _ in 0..50 {
        let mut values = solved(&bridged, 10e-9);
        let mut draw = |name: &str, low: f64, high: f64| {
            let value = random.between(low, high);
            values[bridged.netlist.position(name).expect("a part")] = value;
            value
        };
        let (r1, r2) = (draw("R1", 1e3, 1e6), draw("R2", 1e3, 1e6));
        let (c1, c2) = (draw("C1", 1e-10, 1e-7), draw("C2", 1e-10, 1e-7));
        let seen = bridged.transfer(&values);
        for f in [1.0, 30.0, 1e3, 30e3, 1e6] {
            let s = Complex64::new(0.0, std::f64::consts::TAU * f);
            let poles = 1.0 + s * (c1 * (r1 + r2) + c2 * r1) + s * s * c1 * c2 * r1 * r2;
            let expected = 1.0 - s * c2 * r1 / poles;
            assert!((seen.at(f) - expected).norm() < 1e-6, "{f} Hz");
        }
    }
}

#[test]
fn a_depth_is_set_where_the_circuit_allows() {
    for id in ["mfb-notch", "subtracted-notch", "gyrator-notch"] {
        let ask = Ask::Notch(NotchAsk {
            depth: polewright::stages::Depth::Decibel(20.0),
            least_depth: 15.0,
            ..NotchAsk::default()
        });
        let model = model(id, &ask, &OpAmp::IDEAL);
        let values = solved(&model, 10e-9);
        let found = ["notch-frequency", "q", "depth-db"].map(|n| figure(&model, &values, n));
        assert!((found[0] / 2350.0 - 1.0).abs() < 1e-8, "{id} {found:?}");
        assert!((found[1] / 2.0 - 1.0).abs() < 1e-8, "{id} {found:?}");
        assert!((found[2] - 20.0).abs() < 1e-6, "{id} {found:?}");
    }
}
