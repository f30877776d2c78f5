//! Levels, offsets and what they demand of op amps: against nodal equations and an inverted Laplace transform
//! (tests/reference/demands.py), against closed forms, and in whole outcomes.

use std::collections::BTreeMap;

use polewright::circuit::Kind;
use polewright::demands::{DrivenStage, Moved, Peaks, Quantity, Sines, offsets};
use polewright::design::{Design, Enters, SignalPoint, StageDesign};
use polewright::outcome::{DemandsOutcome, OpAmpDemands};
use polewright::parts::{DataSheet, OpAmp};
use polewright::plant::sweep;
use polewright::stages::{CATALOGUE, Model, by_id};
use serde::Deserialize;

use super::designs::{quiet, solved};

#[derive(Deserialize)]
struct Reference {
    bias: f64,
    circuits: Vec<Case>,
    frequencies: Vec<f64>,
    offset: f64,
    times: Vec<f64>,
}

/// Rows of op amps: output, current, and mean of the inputs.
type Rows = Vec<[f64; 3]>;

#[derive(Deserialize)]
struct Case {
    name: String,
    values: BTreeMap<String, f64>,
    sines: Vec<Rows>,
    steps: Vec<Rows>,
    offset: [f64; 2],
}

fn reference() -> Reference {
    let path = format!(
        "{}/tests/reference/demands.json",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(&path).expect(&path);
    serde_json::from_str(&text).expect(&path)
}

/// A circuit of the catalogue with the op amp of the scripts: 120 dB, 10 MHz, 100 Ω.
pub fn model(circuit: &str) -> Model {
    let stage = by_id(circuit).expect("a circuit");
    Model::new(stage, &stage.default_ask(), &OpAmp::default()).expect("a model")
}

/// Values of all parts, in the netlist's order, that a script has by name.
pub fn values(model: &Model, of: &BTreeMap<String, f64>) -> Vec<f64> {
    let parts = model.netlist.parts().iter();
    parts
        .map(|part| of.get(&part.name).copied().unwrap_or(0.0))
        .collect()
}

fn sheets(model: &Model, sheet: &'static DataSheet) -> Vec<&'static DataSheet> {
    vec![sheet; model.op_amp_count() as usize]
}

fn leaked(sheet: DataSheet) -> &'static DataSheet {
    Box::leak(Box::new(sheet))
}

#[test]
fn sines_through_every_circuit() {
    let reference = reference();
    let sheet = leaked(DataSheet::default());
    for (place, case) in reference.circuits.iter().enumerate() {
        let model = model(CATALOGUE[place].id());
        assert_eq!(case.name, model.stage.id());
        let stage = DrivenStage::new(&model, &values(&model, &case.values), sheets(&model, sheet));
        for (frequency, rows) in reference.frequencies.iter().zip(&case.sines) {
            let mut sines = Sines::new(vec![*frequency], vec![2.0]);
            let mut reached = stage.nothing();
            sines.pass(0..1, &stage, Err(f64::INFINITY), &mut reached);
            assert_eq!(reached.op_amps.len(), rows.len(), "{}", case.name);
            for (own, [output, current, mean]) in reached.op_amps.iter().zip(rows) {
                let omega = std::f64::consts::TAU * frequency;
                let pairs = [
                    (own.swing.value, 2.0 * output),
                    (own.slew.value, 2.0 * output * omega),
                    (own.current.value, 2.0 * current),
                    (own.input_high.value, 2.0 * mean),
                    (own.input_low.value, 2.0 * mean),
                ];
                for (own, known) in pairs {
                    assert!((own - known).abs() < 1e-9 * known + 1e-12, "{}", case.name);
                }
            }
        }
    }
}

/// After a step of 2 V, at every op amp the largest value that a fine time grid meets is among those of the script, as far
/// as both look at the same times.
#[test]
fn a_step_through_every_circuit() {
    let reference = reference();
    let sheet = leaked(DataSheet::default());
    let mut worst: f64 = 0.0;
    for (place, case) in reference.circuits.iter().enumerate() {
        let model = model(CATALOGUE[place].id());
        let stage = DrivenStage::new(&model, &values(&model, &case.values), sheets(&model, sheet));
        for (at, rows) in reference.times.iter().zip(&case.steps) {
            // Closer where the step begins.
            let time: Vec<f64> = (0..=1500)
                .map(|k| at * (f64::from(k) / 1500.0).powi(2))
                .collect();
            let mut moved = Moved::new(&time, &[2.0; 1501]).expect("a signal");
            while !moved.follow(&stage, 300).expect("an answer") {}
            let ends = moved.ends(0).expect("a stage that is through");
            assert_eq!(ends.len(), rows.len());
            for (own, known) in ends.iter().zip(rows) {
                for (own, known) in own.iter().zip(known) {
                    let scale = known.abs().max(1e-3 * rows[0][0].abs()).max(1e-6);
                    let miss = (own / 2.0 - known).abs() / scale;

                    worst = worst.max(miss);
                }
            }
        }
    }
    assert!(worst < 2e-3, "{worst}");
}

#[test]
fn offsets_of_every_circuit() {
    let reference = reference();
    let of = |offset, offset_drift, bias_current| {
        leaked(DataSheet {
            offset,
            offset_drift,
            bias_current,
            ..DataSheet::default()
        })
    };
    // Half of the offset comes with 20 K of drift.
    let half = 0.5 * reference.offset;
    let sheet = of(half, half / 20.0, reference.bias);
    for (place, case) in reference.circuits.iter().enumerate() {
        let model = model(CATALOGUE[place].id());
        let stage = DrivenStage::new(&model, &values(&model, &case.values), sheets(&model, sheet));
        let own = offsets(&[stage], 20.0)[0].unwrap_or_else(|| panic!("{}", case.name));
        for (own, known) in [own.voltage, own.bias].into_iter().zip(case.offset) {
            // The script looks next to DC where the program looks at DC.
            assert!(
                (own - known).abs() < 1e-3 * known + 1e-9,
                "{}: {own} {known}",
                case.name
            );
        }
    }
}

/// An inverting amplifier of −10 into 1 kΩ, 0.2 V at 1 kHz (Franco, "Design with Operational Amplifiers", ch. 1, 5 and 6:
/// 2 V out; 2 mA into the load and 0.2 mA into the feedback; 4π·10³ V/s; offset 11·Vos and Ib·R2).
#[test]
fn an_inverting_amplifier_in_closed_form() {
    let circuit = by_id("gain-inverting").expect("a circuit");
    let op_amp = OpAmp {
        gain_db: 200.0,
        gain_bandwidth: 1e12,
        output_resistance: 0.0,
    };
    let model = Model::new(circuit, &circuit.default_ask(), &op_amp).expect("a model");
    let parts = model.netlist.parts().iter();
    let mut resistors = [1e3, 10e3].into_iter();
    let values: Vec<f64> = parts
        .map(|part| match part.kind {
            Kind::Resistor { .. } => resistors.next().expect("two resistors"),
            _ => 0.0,
        })
        .collect();
    let sheet = leaked(DataSheet {
        offset: 1e-3,
        offset_drift: 0.0,
        bias_current: 100e-9,
        ..DataSheet::default()
    });
    let stage = DrivenStage::new(&model, &values, vec![sheet]);
    let mut sines = Sines::new(vec![1e3], vec![0.2]);
    let mut reached = stage.nothing();
    sines.pass(0..1, &stage, Err(1e3), &mut reached);
    let Peaks {
        slew,
        current,
        swing,
        input_high,
        ..
    } = reached.op_amps[0];
    for (own, known) in [
        (swing.value, 2.0),
        (current.value, 2.2e-3),
        (slew.value, 4e3 * std::f64::consts::PI),
    ] {
        assert!((own / known - 1.0).abs() < 1e-6, "{own} {known}");
    }
    assert!(input_high.value < 1e-6);
    let own = offsets(&[stage], 0.0)[0].expect("an offset");
    assert!((own.voltage / 11e-3 - 1.0).abs() < 1e-6);
    assert!((own.bias / 1e-3 - 1.0).abs() < 1e-6);
    assert!((own.gain + 10.0).abs() < 1e-6);
}

fn path(circuits: &[&str]) -> Design {
    let stage = |id: &&str| StageDesign {
        circuit: (*id).to_owned(),
        ask: by_id(id).expect("a circuit").default_ask(),
        ..StageDesign::default()
    };
    let mut design = quiet(Design::default(), 100);
    design.stages = circuits.iter().map(stage).collect();
    design
}

fn demanded(design: &Design) -> DemandsOutcome {
    solved(design).demands.expect("demands")
}

fn needed(op_amp: &OpAmpDemands, quantity: Quantity) -> f64 {
    let mut demands = op_amp.demands.iter();
    let found = demands.find(|demand| demand.quantity == quantity);
    found.expect("a demand").needed
}

/// What drives a stage is what the one before it delivers, and its current is what the next one draws.
#[test]
fn stages_drive_each_other() {
    let two = demanded(&path(&["gain-inverting", "gain-inverting"]));
    let mut high = path(&["gain-inverting", "gain-inverting"]);
    high.conditions.load = 1e9;
    let high = demanded(&high);
    assert_eq!((two.op_amps.len(), two.op_amps[1].stage), (2, 1));
    // Both have a gain of −1 by default, or as asked: the first one's output is the second one's input.
    let gains: Vec<f64> = two.offset.stages.iter().map(|own| own.behind).collect();
    let swings: Vec<f64> = (two.op_amps.iter())
        .map(|own| needed(own, Quantity::OutputSwing))
        .collect();
    assert!(
        (swings[1] / swings[0] / gains[0].abs() - 1.0).abs() < 1e-3,
        "{swings:?}"
    );
    // Only the last one feels the load.
    let current =
        |told: &DemandsOutcome, at: usize| needed(&told.op_amps[at], Quantity::OutputCurrent);
    assert_eq!(current(&two, 0), current(&high, 0));
    let more = current(&two, 1) - current(&high, 1);
    assert!((more - swings[1] / 10e3).abs() < 1e-2 * more, "{more}");
    assert_eq!(two.supply_current, 8e-3);
    assert!((two.supply_power - 0.24).abs() < 1e-12);
}

/// A signal that is twice as large needs twice as much of all but the gain-bandwidth.
#[test]
fn demands_go_with_the_signal() {
    let design = path(&["state-variable-notch", "mfb-low-pass"]);
    let mut louder = design.clone();
    for point in &mut louder.signal.points {
        point.amplitude *= 2.0;
    }
    let (now, then) = (demanded(&design), demanded(&louder));
    assert_eq!(now.signal, Some(Enters::Path));
    for (a, b) in now.op_amps.iter().zip(&then.op_amps) {
        assert_eq!(a.demands.len(), 6);
        for (a, b) in a.demands.iter().zip(&b.demands) {
            let factor = if a.quantity == Quantity::GainBandwidth {
                1.0
            } else {
                2.0
            };
            assert!(
                (b.needed - factor * a.needed).abs() <= 1e-9 * b.needed,
                "{a:?} {b:?}"
            );
        }
    }
    assert_eq!(now.offset, then.offset);
}

/// The peak inside a stage is found, not only that at its end: the band-pass output of a state-variable notch is at its
/// peak where the notch has nothing.
#[test]
fn a_peak_inside_a_stage_is_found() {
    let mut design = path(&["state-variable-notch"]);
    design.signal.points = [2.34e3, 2.36e3]
        .map(|frequency| SignalPoint {
            frequency,
            amplitude: 1.0,
        })
        .to_vec();
    let told = demanded(&design);
    let peak = |name: &str| {
        let mut nodes = told.nodes.iter();
        nodes
            .find(|level| level.node == name)
            .expect("a node")
            .peak
            .value
    };
    assert!(
        peak("out") < 0.1 && peak("band") > 0.3,
        "{} {}",
        peak("out"),
        peak("band")
    );
    let band = told
        .op_amps
        .iter()
        .find(|own| own.name == "U2")
        .expect("U2");
    assert_eq!(needed(band, Quantity::OutputSwing), peak("band"));
}

/// Each op amp is held against its own data sheet.
#[test]
fn an_op_amp_of_its_own_has_its_own_limits() {
    let mut design = path(&["state-variable-notch"]);
    design.op_amps = vec![DataSheet {
        name: "weak".to_owned(),
        slew_rate: 1e3,
        ..DataSheet::default()
    }];
    design.stages[0].op_amps = [("U3".to_owned(), "weak".to_owned())].into();
    let told = demanded(&design);
    for own in &told.op_amps {
        let slew = own
            .demands
            .iter()
            .find(|d| d.quantity == Quantity::SlewRate);
        let is_weak = own.name == "U3";
        assert_eq!(own.sheet == "weak", is_weak);
        assert_eq!(slew.expect("a demand").holds(), !is_weak);
    }
}

/// With a plant the sine is the loop's reference: far below the crossover hardly anything of it reaches the path.
#[test]
fn a_loop_takes_its_error_from_the_reference() {
    let mut design = path(&["gain-inverting"]);
    design.servo.sweep = sweep::DEMO.to_owned();
    let outcome = solved(&design);
    let closed = outcome
        .servo
        .as_ref()
        .and_then(|servo| servo.closed())
        .expect("a loop");
    let is_stable = closed.unstable_poles == Some(0);
    let told = outcome.demands.expect("demands");
    match is_stable {
        true => assert_eq!(told.signal, Some(Enters::Reference)),
        false => assert_eq!((told.signal, told.notes.len()), (None, 1)),
    }
    design.signal.enters = Enters::Path;
    let alone = demanded(&design);
    assert_eq!(alone.signal, Some(Enters::Path));
    let without = demanded(&path(&["gain-inverting"]));
    assert_eq!(alone.op_amps, without.op_amps);
}

/// With the signal that is allowed the tightest demand that follows the signal is on its limit.
#[test]
fn the_signal_that_is_allowed_is_on_a_limit() {
    let mut design = path(&["mfb-notch", "sallen-key-low-pass-gain"]);
    let allowed = demanded(&design).signal_allowed().expect("a signal");
    for point in &mut design.signal.points {
        point.amplitude *= allowed;
    }
    let then = demanded(&design);
    let all = then.op_amps.iter().flat_map(|own| &own.demands);
    let follow = all.filter(|demand| demand.quantity != Quantity::GainBandwidth);
    let most = follow.map(|demand| demand.ratio()).fold(0.0, f64::max);
    assert!((most - 1.0).abs() < 1e-9, "{most}");
    assert!((then.signal_allowed().expect("a signal") - 1.0).abs() < 1e-9);
}

/// What integrates has an offset beyond its rails, and a finite one at its input.
#[test]
fn a_controller_that_integrates_goes_to_a_rail() {
    let offset = demanded(&path(&["gain-inverting", "pid-parallel"])).offset;
    assert!(offset.at_rail && offset.output > Some(15.0), "{offset:?}");
    assert!(offset.input < Some(0.1), "{offset:?}");
    let offset = demanded(&path(&["gain-inverting"])).offset;
    assert!(!offset.at_rail && offset.output < Some(0.1), "{offset:?}");
}
