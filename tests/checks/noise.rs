//! Noise of every circuit of the catalogue against a nodal sum in NumPy, source by source
//! (tests/reference/noise.py).

use std::collections::BTreeMap;

use polewright::circuit::noise::{OpAmpNoise, densities, integrated};
use polewright::circuit::{Kind, Netlist};
use polewright::stages::CATALOGUE;
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    band: (f64, f64),
    circuits: Vec<Case>,
    frequencies: Vec<f64>,
    noise: BTreeMap<String, f64>,
    op_amp: BTreeMap<String, f64>,
    temperature: f64,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    values: BTreeMap<String, f64>,
    densities: Vec<Vec<f64>>,
    rms: f64,
}

fn reference() -> Reference {
    let path = format!("{}/tests/reference/noise.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).expect(&path);
    serde_json::from_str(&text).expect(&path)
}

impl Reference {
    fn values(&self, case: &Case, netlist: &Netlist) -> Vec<f64> {
        let parts = netlist.parts().iter();
        parts
            .flat_map(|part| match part.kind {
                Kind::OpAmp { .. } => ["inverse_gain", "inverse_gbw_hz", "output_resistance"]
                    .map(|name| self.op_amp[name])
                    .to_vec(),
                _ => vec![case.values[&part.name]],
            })
            .collect()
    }

    fn op_amp(&self) -> OpAmpNoise {
        OpAmpNoise {
            voltage: self.noise["voltage"],
            voltage_corner: self.noise["voltage_corner"],
            current: self.noise["current"],
            current_corner: self.noise["current_corner"],
        }
    }
}

#[test]
fn every_source_of_every_circuit() {
    let reference = reference();
    assert_eq!(reference.circuits.len(), CATALOGUE.len());
    let mut worst: f64 = 0.0;
    for (case, stage) in reference.circuits.iter().zip(CATALOGUE) {
        assert_eq!(case.name, stage.id());
        let netlist = stage.netlist();
        let values = reference.values(case, &netlist);
        for (frequency, known) in reference.frequencies.iter().zip(&case.densities) {
            let own = densities(
                &netlist,
                &values,
                |_| reference.op_amp(),
                *frequency,
                reference.temperature,
            );
            let own = own.expect("densities");
            assert_eq!(own.len(), known.len(), "{}", case.name);
            let total: f64 = known.iter().sum();
            for (own, known) in own.iter().zip(known) {
                // What is a billionth of the whole is rounding where two large numbers cancel.
                let miss = (own - known).abs() / known.max(1e-9 * total);
                worst = worst.max(miss);
                assert!(
                    miss < 1e-6,
                    "{} at {frequency} Hz: {own} {known}",
                    case.name
                );
            }
        }
    }
    println!("at most {worst:.1e}");
}

#[test]
fn the_noise_in_a_band() {
    let reference = reference();
    let (from, to) = reference.band;
    for (case, stage) in reference.circuits.iter().zip(CATALOGUE) {
        let netlist = stage.netlist();
        let values = reference.values(case, &netlist);
        let steps = 400;
        let frequencies: Vec<f64> = (0..=steps)
            .map(|k| from * (to / from).powf(f64::from(k) / f64::from(steps)))
            .collect();
        let total: Vec<f64> = frequencies
            .iter()
            .map(|f| {
                let all = densities(
                    &netlist,
                    &values,
                    |_| reference.op_amp(),
                    *f,
                    reference.temperature,
                );
                all.expect("densities").iter().sum()
            })
            .collect();
        let rms = integrated(&frequencies, &total).sqrt();
        assert!(
            (rms / case.rms - 1.0).abs() < 2e-3,
            "{}: {rms} {}",
            case.name,
            case.rms
        );
    }
}
