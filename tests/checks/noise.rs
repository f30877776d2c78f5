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

/// W. Jung (ed.), "Op Amp Applications Handbook", ch. 1, "Op Amp Noise" (from memory): an op amp with 3 nV/√Hz and
/// 1 pA/√Hz behind sources of 0, 3 kΩ and 300 kΩ. Its table has 3, 3 and 3 nV/√Hz of voltage noise, 0, 3 and 300 of current
/// noise in the source, and 0, 7 and 70 of the source itself, in whole nanovolts.
#[test]
fn a_handbooks_table_of_what_dominates() {
    let op_amp = OpAmpNoise {
        voltage: 3e-9,
        current: 1e-12,
        ..OpAmpNoise::default()
    };
    let netlist = Netlist::new("in", "out")
        .resistor("R1", "in", "plus")
        .op_amp("U1", "plus", "out", "out");
    // Without a source there is as good as none.
    for (source, known) in [
        (1e-6, [0.0, 3.0, 0.0]),
        (3e3, [7.0, 3.0, 3.0]),
        (300e3, [70.0, 3.0, 300.0]),
    ] {
        let values = [source, 0.0, 0.0, 0.0];
        let own = densities(&netlist, &values, |_| op_amp, 1e3, 298.15).expect("densities");
        // Thermal, voltage, current at the plus input; the minus input is driven by the output.
        for (density, known) in own.iter().zip(known) {
            assert_eq!((density.sqrt() * 1e9).round(), known, "{source}");
        }
        assert!(own[3] < 1e-30);
    }
}

/// Op Amps for Everyone, ch. 10, on thermal noise (from memory): 100 kΩ at 298 K makes 5.73 µV rms from 20 Hz to 20 kHz.
/// P. Horowitz, W. Hill, "The Art of Electronics", ch. 7 (from memory): 10 kΩ at room temperature makes 1.3 µV rms in 10 kHz.
#[test]
fn handbooks_resistors_over_a_band() {
    let netlist = Netlist::new("in", "out")
        .resistor("R1", "in", "plus")
        .op_amp("U1", "plus", "out", "out");
    for (resistance, kelvin, (from, to), known, digits) in [
        (100e3, 298.0, (20.0, 20e3), 5.73, 100.0),
        (10e3, 293.0, (1e-3, 10e3), 1.3, 10.0),
    ] {
        let values = [resistance, 0.0, 0.0, 0.0];
        let frequencies = [from, f64::sqrt(from * to), to];
        let own = frequencies.map(|f: f64| {
            let silent = |_| OpAmpNoise::default();
            let all = densities(&netlist, &values, silent, f, kelvin).expect("densities");
            all.iter().sum::<f64>()
        });
        let microvolts = integrated(&frequencies, &own).sqrt() * 1e6;
        assert_eq!((microvolts * digits).round() / digits, known);
    }
}

/// An op amp's white noise with its 1/f part over a band: e·√(f_c·ln(f_H/f_L) + f_H − f_L) (the same handbook, "1/f Noise",
/// from memory).
#[test]
fn flicker_over_a_band() {
    let op_amp = OpAmpNoise {
        voltage: 10e-9,
        voltage_corner: 200.0,
        ..OpAmpNoise::default()
    };
    let netlist = Netlist::new("in", "out").op_amp("U1", "in", "out", "out");
    let (low, high) = (0.1, 1e4);
    let frequencies: Vec<f64> = (0..=200)
        .map(|k| low * f64::powf(high / low, f64::from(k) / 200.0))
        .collect();
    let own = frequencies.iter().map(|f| {
        let all = densities(&netlist, &[0.0; 3], |_| op_amp, *f, 300.0).expect("densities");
        all.iter().sum::<f64>()
    });
    let rms = integrated(&frequencies, &own.collect::<Vec<f64>>()).sqrt();
    let known = 10e-9 * (200.0 * f64::ln(high / low) + high - low).sqrt();
    assert!((rms / known - 1.0).abs() < 1e-3, "{rms} {known}");
}
