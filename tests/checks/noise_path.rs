//! Noise of a path and of the loop round it, as the program tells it, against nodal sums in NumPy
//! (tests/reference/noise_path.py).

use std::collections::BTreeMap;

use polewright::comparison::{Side, figures};
use polewright::design::{Design, StageDesign, Summing};
use polewright::outcome::{NoiseOutcome, Outcome};
use polewright::parts::DataSheet;
use polewright::plant::{Mode, Model};
use polewright::plots::Chart;
use polewright::quantity::{Unit, rounded};
use polewright::stages::by_id;
use serde::Deserialize;
use serde_json::json;

use super::designs::{quiet, solved};

#[derive(Deserialize)]
struct Reference {
    band: (f64, f64),
    data_sheet: serde_json::Value,
    delay: f64,
    drive_rms: f64,
    drive_rms_by_stage: Vec<f64>,
    frequencies: Vec<f64>,
    input_density: Vec<f64>,
    mode: Mode,
    output_density: Vec<f64>,
    position_rms: f64,
    position_rms_by_stage: Vec<f64>,
    rms: f64,
    rms_by_stage: Vec<f64>,
    stage_rms: Vec<f64>,
    stages: Vec<Stage>,
    temperature: f64,
}

#[derive(Deserialize)]
struct Stage {
    circuit: String,
    values: BTreeMap<String, f64>,
}

fn reference() -> Reference {
    super::reference::read("noise_path")
}

impl Reference {
    /// Every part of it is pinned, so that it is what the reference has.
    fn design(&self) -> Design {
        let mut design = quiet(Design::default(), 100);
        let stages = self.stages.iter().map(|stage| StageDesign {
            circuit: stage.circuit.clone(),
            ask: by_id(&stage.circuit).expect("a circuit").default_ask(),
            pins: stage.values.clone(),
            ..StageDesign::default()
        });
        design.stages = stages.collect();
        design.op_amp = serde_json::from_value::<DataSheet>(self.data_sheet.clone()).expect("it");
        design.conditions.temperature = self.temperature;
        (design.noise.from, design.noise.to) = self.band;
        design.servo.summing = Summing::Adds;
        design.servo.model = Some(Model {
            rigid: None,
            modes: vec![self.mode],
            delay: self.delay,
            lag: None,
        });
        design
    }
}

fn is_close(own: f64, known: f64, within: f64, what: &str) {
    let miss = (own / known - 1.0).abs();
    assert!(miss < within, "{what}: {own} {known}");
}

fn told(outcome: &Outcome) -> &NoiseOutcome {
    outcome.noise.as_ref().expect("noise")
}

/// A density between two points of a curve: a straight line on logarithmic axes.
fn read(frequencies: &[f64], densities: &[f64], at: f64) -> f64 {
    let place = frequencies.partition_point(|f| *f < at * (1.0 - 1e-9));
    let place = place.clamp(1, frequencies.len() - 1);
    let (f, g) = (frequencies[place - 1], frequencies[place]);
    let share = (at / f).ln() / (g / f).ln();
    (densities[place - 1].ln() * (1.0 - share) + densities[place].ln() * share).exp()
}

#[test]
fn a_path_of_three_stages() {
    let reference = reference();
    let outcome = solved(&reference.design());
    let noise = told(&outcome);
    for (k, stage) in noise.stages.iter().enumerate() {
        is_close(stage.total.rms, reference.stage_rms[k], 1e-3, "stage");
        let at_output = noise.path.stages[k].rms;
        is_close(at_output, reference.rms_by_stage[k], 2e-3, "through");
        let all: f64 = stage.contributors.iter().map(|one| one.share).sum();
        // Between two points a sum is no longer a power of the frequency where each of its terms is.
        is_close(all, 1.0, 1e-3, "shares");
        let sorted = stage.contributors.windows(2);
        assert!(sorted.into_iter().all(|pair| pair[0].rms >= pair[1].rms));
    }
    is_close(noise.path.total.rms, reference.rms, 1e-3, "path");
    let density = &noise.path.density;
    let input: Vec<f64> = density
        .input
        .iter()
        .map(|d| d.unwrap_or(f64::NAN))
        .collect();
    for (k, at) in reference.frequencies.iter().enumerate() {
        let own = read(&density.frequency, &density.output, *at);
        is_close(own, reference.output_density[k], 2e-3, "output density");
        let own = read(&density.frequency, &input, *at);
        // At the band's upper end the gain is less than a thousandth of its largest.
        if own.is_finite() {
            // Beside the notch the gain bends between two points.
            is_close(own, reference.input_density[k], 1e-2, "input density");
        } else {
            assert!(*at > 30e3, "{at}");
        }
    }
}

#[test]
fn round_the_loop() {
    let reference = reference();
    let outcome = solved(&reference.design());
    let looped = told(&outcome).looped.as_ref().expect("a loop");
    assert_eq!(looped.why, None);
    assert_eq!((looped.from, looped.to), reference.band);
    is_close(looped.drive_rms, reference.drive_rms, 1e-3, "drive");
    is_close(
        looped.position_rms,
        reference.position_rms,
        1e-3,
        "position",
    );
    let design = reference.design();
    for chart in [
        Chart::DriveNoise,
        Chart::PositionNoise,
        Chart::PathNoise,
        Chart::PathInputNoise,
    ] {
        assert!(chart.plot(&design, &outcome).is_some(), "{chart:?}");
    }
    for (k, stage) in looped.stages.iter().enumerate() {
        is_close(
            stage.drive_rms,
            reference.drive_rms_by_stage[k],
            1e-3,
            "drive",
        );
        let known = reference.position_rms_by_stage[k];
        is_close(stage.position_rms, known, 1e-3, "position");
    }
}

/// The other sign makes the feedback positive, and ten times the plant's gain makes the loop ring without end.
#[test]
fn a_loop_that_is_not_stable_has_no_noise() {
    let reference = reference();
    let mut design = reference.design();
    design.servo.summing = Summing::Subtracts;
    let model = design.servo.model.as_mut().expect("a model");
    model.modes[0].residue *= 100.0;
    let outcome = solved(&design);
    let looped = told(&outcome).looped.as_ref().expect("a loop");
    assert!(looped.why.is_some());
    assert!(looped.frequency.is_empty() && looped.stages.is_empty());
}

/// The taken circuit's row says what the stage's own noise is, and the comparison and the sheet what the path's is.
#[test]
fn noise_stands_wherever_figures_do() {
    let mut design = quiet(Design::default(), 100);
    design.view.compare = true;
    let outcome = solved(&design);
    let total = told(&outcome).stages[0].total.rms;
    let taken = outcome.others.iter().find(|row| row.taken).expect("a row");
    is_close(taken.noise, total, 1e-9, "its row");
    assert!(outcome.others.iter().all(|row| row.noise > 0.0));
    let side = Side::of(&design, &outcome);
    let rows = figures(&side, &side);
    let row = rows.iter().find(|row| row.name == "output-noise");
    assert_eq!(row.expect("a row").now, Some(told(&outcome).path.total.rms));
    let sheet = polewright::sheet::fragment(&design, &outcome);
    let text = rounded(told(&outcome).path.total.rms, Unit::Volt, 3);
    assert!(sheet.contains(&format!("{text} rms")), "{text}");
}

/// In a notch's null nothing is referred to the input; beside it, it is.
#[test]
fn a_null_is_not_referred_to_the_input() {
    let design = quiet(Design::default(), 100);
    let outcome = solved(&design);
    let density = &told(&outcome).stages[0].density;
    let null = design.stages[0].ask.frequency();
    let nearest = |f: &f64| (f / null).ln().abs();
    let places = 0..density.frequency.len();
    let at = places
        .min_by(|a, b| nearest(&density.frequency[*a]).total_cmp(&nearest(&density.frequency[*b])));
    let gain_db = outcome.stages[0].curves.as_ref().map(|curves| {
        let real = curves.real.magnitude_db.iter();
        real.copied().fold(f64::INFINITY, f64::min)
    });
    let told = density.input[at.expect("a place")];
    assert_eq!(told.is_none(), gain_db.expect("curves") < -60.0);
    assert!(density.input[0].is_some());
}

/// Twice the absolute temperature is twice the thermal power, and none of the op amps'.
#[test]
fn temperature_and_op_amps_count() {
    let mut design = quiet(Design::default(), 100);
    let thermal = |outcome: &Outcome| {
        let all = told(outcome).stages[0].contributors.iter();
        let thermal = all.filter(|one| one.words() == "thermal noise");
        thermal.map(|one| one.rms.powi(2)).sum::<f64>()
    };
    let room = solved(&design);
    design.conditions.temperature = 2.0 * (25.0 + 273.15) - 273.15 - 100.0;
    let warm = solved(&design);
    let ratio = design.conditions.kelvin() / 298.15;
    is_close(thermal(&warm) / thermal(&room), ratio, 1e-9, "thermal");
    // A source without noise of its own is left: resistors alone.
    design.op_amp.voltage_noise = 0.0;
    design.op_amp.current_noise = 0.0;
    let quiet = solved(&design);
    let all = told(&quiet).stages[0].total.rms.powi(2);
    is_close(thermal(&quiet), all, 1e-3, "resistors alone");
    let edited: Design = serde_json::from_value(json!(design)).expect("a design");
    assert_eq!(edited, design);
}
