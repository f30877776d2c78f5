//! What a signal in time demands of op amps, in every circuit and along paths, against SciPy (tests/reference/driven.py): it
//! follows the signal itself through a state space, where the program has it in samples.

use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::{PI, TAU};

use polewright::demands::{DrivenStage, Moved, Peaks, Reached};
use polewright::parts::DataSheet;
use polewright::stages::{CATALOGUE, Model};
use serde::Deserialize;

use super::demands::{model, values};
use super::reference;

#[derive(Deserialize)]
struct Reference {
    amplitude: f64,
    chirp: [f64; 2],
    circuits: Vec<Case>,
    load: f64,
    paths: Vec<Path>,
    time: f64,
}

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    stage: Stage,
    #[serde(flatten)]
    told: Told,
}

#[derive(Deserialize)]
struct Path {
    stages: Vec<Stage>,
    #[serde(flatten)]
    told: Told,
}

#[derive(Deserialize)]
struct Stage {
    name: String,
    values: BTreeMap<String, f64>,
}

#[derive(Deserialize)]
struct Told {
    /// Slew, current, swing, common mode upwards and downwards of each op amp.
    peaks: Vec<[f64; 5]>,
    /// All nodes but those that are grounded; in a path its stage's number and a point stand before a node's name.
    nodes: Vec<String>,
    /// The largest magnitude at each.
    levels: Vec<f64>,
}

/// A loop's motion has as many samples.
const SAMPLES: u32 = 800;
/// How far a peak may be off, relative to itself: each is read at steps of 1.25 µs.
const WITHIN: f64 = 2e-3;
/// The same of currents: what capacitors take goes with the signal's slope, which has a small corner at each step.
const WITHIN_CURRENT: f64 = 5e-3;
/// What is small beside the op amp's swing, or beside the path's largest node.
const SMALL: f64 = 1e-4;

impl Reference {
    /// The signal at as many samples as a loop's motion has.
    fn signal(&self) -> Moved {
        let share = |k: u32| f64::from(k) / f64::from(SAMPLES);
        let time: Vec<f64> = (0..=SAMPLES).map(|k| self.time * share(k)).collect();
        let voltage = |t: &f64| {
            let [from, to] = self.chirp;
            let turn = TAU * (from * t + (to - from) * t * t / (2.0 * self.time));
            self.amplitude * (PI * t / self.time).sin().powi(2) * turn.sin()
        };
        let driving: Vec<f64> = time.iter().map(voltage).collect();
        Moved::new(&time, &driving).expect("a signal")
    }

    fn reached(&self, stages: &[&Stage], load: f64) -> (Vec<Model>, Vec<Reached>) {
        let models: Vec<Model> = stages.iter().map(|stage| model(&stage.name)).collect();
        let sheet = DataSheet::default();
        let driven = models.iter().zip(stages).map(|(model, stage)| {
            let sheets = vec![&sheet; model.op_amp_count() as usize];
            DrivenStage::new(model, &values(model, &stage.values), sheets)
        });
        let driven: Vec<DrivenStage> = driven.collect();
        let mut moved = self.signal();
        for stage in &driven {
            while !moved.follow(stage, 300).expect("an answer") {}
        }
        let reached = moved.reached(&driven, load);
        (models, reached)
    }
}

/// Holds what was reached in stages against what is known; `node` gives a node's name in the script by stage and name.
fn hold(
    path: &str,
    models: &[Model],
    reached: &[Reached],
    told: &Told,
    node: impl Fn(usize, &str) -> String,
) {
    let op_amps: Vec<&Peaks> = reached.iter().flat_map(|stage| &stage.op_amps).collect();
    assert_eq!(op_amps.len(), told.peaks.len(), "{path}");
    for (own, &[slew, current, swing, high, low]) in op_amps.iter().zip(&told.peaks) {
        // Between an op amp's inputs are microvolts, which hang on the load and on every corner of the signal.
        let small = SMALL * swing;
        let pairs = [
            ("slew", own.slew, slew, WITHIN * slew),
            ("swing", own.swing, swing, WITHIN * swing),
            (
                "current",
                own.current,
                current,
                WITHIN_CURRENT * current + 1e-12,
            ),
            ("input high", own.input_high, high, WITHIN * high + small),
            ("input low", own.input_low, low, WITHIN * low + small),
        ];
        for (what, own, known, within) in pairs {
            let miss = (own.value - known).abs();
            assert!(miss <= within, "{path}: {what} {} {known}", own.value);
        }
    }
    let largest = told.levels.iter().copied().fold(0.0, f64::max);
    let levels: BTreeMap<&String, f64> =
        told.nodes.iter().zip(told.levels.iter().copied()).collect();
    let mut seen = BTreeSet::new();
    for (place, (model, reached)) in models.iter().zip(reached).enumerate() {
        for (name, own) in model.netlist.nodes().iter().zip(&reached.nodes) {
            let name = node(place, name);
            // Ground and grounded inputs are in no list of the script's.
            let known = levels.get(&name).copied().unwrap_or(0.0);
            let miss = (own.value - known).abs();
            assert!(
                miss <= WITHIN * known + SMALL * largest,
                "{path}: {name} {} {known}",
                own.value
            );
            seen.insert(name);
        }
    }
    assert!(told.nodes.iter().all(|name| seen.contains(name)), "{path}");
}

#[test]
fn a_signal_through_every_circuit() {
    let reference: Reference = reference::read("driven");
    assert_eq!(reference.circuits.len(), CATALOGUE.len());
    for Case { stage, told } in &reference.circuits {
        let (models, reached) = reference.reached(&[stage], f64::INFINITY);
        hold(&stage.name, &models, &reached, told, |_, name| {
            name.to_owned()
        });
    }
}

/// The script has each path as one network. The program has its stages one by one, each behind an ideal source; what the next
/// one draws is in the output current alone.
#[test]
fn a_signal_along_paths() {
    let reference: Reference = reference::read("driven");
    for Path { stages, told } in &reference.paths {
        let stages: Vec<&Stage> = stages.iter().collect();
        let names: Vec<&str> = stages.iter().map(|stage| &stage.name[..]).collect();
        let path = names.join(", ");
        let (models, reached) = reference.reached(&stages, reference.load);
        let ends = |place: usize| {
            let netlist = &models[place].netlist;
            let name = |node: usize| netlist.nodes()[node].clone();
            (name(netlist.inputs()[0]), name(netlist.output()))
        };
        hold(&path, &models, &reached, told, |place, name| match place {
            0 if name == ends(0).0 => "source".to_owned(),
            _ if name == ends(place).0 => format!("{}.{}", place - 1, ends(place - 1).1),
            _ => format!("{place}.{name}"),
        });
        // By itself the first stage has less to deliver, or all this would say nothing of the load.
        let (_, alone) = reference.reached(&stages[..1], f64::INFINITY);
        let pairs = reached[0].op_amps.iter().zip(&alone[0].op_amps);
        let most = pairs.map(|(own, alone)| (own.current.value / alone.current.value - 1.0).abs());
        let most = most.fold(0.0, f64::max);
        assert!(most > 10.0 * WITHIN_CURRENT, "{path}: {most}");
    }
}
