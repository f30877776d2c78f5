//! Every stage's netlist against SymPy's nodal analysis of it (tests/reference/stages.py), which reads the
//! netlists from a file that is kept equal to the catalogue here.

use std::collections::BTreeMap;
use std::fmt::Write;

use polewright::circuit::{Kind, Netlist, Program, Scale};
use polewright::stages::{CATALOGUE, Stage};
use serde::Deserialize;
use serde_json::{Value, json};

fn path(name: &str) -> String {
    format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn part(netlist: &Netlist, part: &polewright::circuit::Part) -> Value {
    let kind = match part.kind {
        Kind::Resistor { .. } => "R",
        Kind::Capacitor { .. } => "C",
        Kind::OpAmp { .. } => "opamp",
    };
    let nodes = part.kind.nodes().into_iter();
    let nodes: Vec<&str> = nodes.map(|node| netlist.nodes()[node].as_str()).collect();
    json!({ "name": part.name, "kind": kind, "nodes": nodes })
}

/// The catalogue's netlists, a part a line.
fn written() -> String {
    let stage = |stage: &&dyn Stage| {
        let netlist = stage.netlist();
        let parts: Vec<String> = netlist
            .parts()
            .iter()
            .map(|p| format!("   {}", part(&netlist, p)))
            .collect();
        let node = |node: usize| &netlist.nodes()[node];
        let mut text = String::new();
        let further: Vec<_> = netlist.inputs()[1..].iter().map(|&n| node(n)).collect();
        let _ = write!(
            text,
            " {{\n  \"name\": \"{}\", \"input\": \"{}\", \"output\": \"{}\",\n  \"further_inputs\": {},\n  \"parts\": [\n{}\n  ]\n }}",
            stage.id(),
            node(netlist.input()),
            node(netlist.output()),
            json!(further),
            parts.join(",\n"),
        );
        text
    };
    let stages: Vec<String> = CATALOGUE.iter().map(stage).collect();
    format!("[\n{}\n]\n", stages.join(",\n"))
}

#[test]
fn the_file_of_netlists_is_the_catalogue() {
    let path = path("stage_netlists.json");
    let now = written();
    if std::env::var_os("WRITE_NETLISTS").is_some() {
        std::fs::write(&path, &now).unwrap_or_else(|e| panic!("{path}: {e}"));
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    let read = |text: &str| serde_json::from_str::<Value>(text).unwrap_or_default();
    assert!(
        read(&now) == read(&kept),
        "tests/reference/stage_netlists.json is not the catalogue: run this test with WRITE_NETLISTS=1 to write it \
         anew, then tests/reference/stages.py"
    );
}

#[derive(Deserialize)]
struct Stages {
    functions: Vec<Function>,
}

#[derive(Deserialize)]
struct Function {
    name: String,
    samples: Vec<Sample>,
}

#[derive(Deserialize)]
struct Sample {
    values: BTreeMap<String, f64>,
    op_amp: OpAmp,
    numerator: Vec<f64>,
    denominator: Vec<f64>,
}

#[derive(Deserialize)]
struct OpAmp {
    inverse_gain: f64,
    inverse_gbw_hz: f64,
    output_resistance: f64,
}

fn inputs(netlist: &Netlist, sample: &Sample) -> Vec<f64> {
    let mut inputs = Vec::new();
    for part in netlist.parts() {
        match part.kind {
            Kind::OpAmp { .. } => inputs.extend([
                sample.op_amp.inverse_gain,
                sample.op_amp.inverse_gbw_hz,
                sample.op_amp.output_resistance,
            ]),
            _ => inputs.push(sample.values[&part.name]),
        }
    }
    inputs
}

#[test]
fn coefficients_as_exact_arithmetic_gives_them() {
    const SCALE: Scale = Scale {
        omega: 1e4,
        impedance: 1e4,
    };
    let stages: Stages = super::reference::read("stages");
    for stage in CATALOGUE {
        let netlist = stage.netlist();
        let program = Program::expand(&netlist).expect("a circuit with an answer");
        let functions = stages.functions.iter().filter(|f| f.name == stage.id());
        let mut worst = 0.0f64;
        let mut checked = 0;
        for sample in functions.flat_map(|function| &function.samples) {
            let h = program.transfer(&inputs(&netlist, sample), SCALE);
            // Both as powers of the scaled s, and as large as they are round |s| = omega.
            let power = |k: usize| SCALE.omega.powi(k as i32);
            let scaled = |c: &[f64]| -> Vec<f64> {
                c.iter().enumerate().map(|(k, c)| c * power(k)).collect()
            };
            let (num, den) = (scaled(&sample.numerator), scaled(&sample.denominator));
            let size = den.iter().fold(0.0f64, |a, b| a.max(b.abs()));
            let lead = den
                .iter()
                .position(|c| c.abs() == size)
                .expect("a largest one");
            let unit = h.den[lead] / den[lead];
            for (found, expected) in [(&h.num, &num), (&h.den, &den)] {
                for k in 0..found.len().max(expected.len()) {
                    let at = |c: &[f64]| c.get(k).copied().unwrap_or(0.0);
                    let miss = (at(found) / unit - at(expected)).abs() / size;
                    worst = worst.max(miss);
                    assert!(miss < 1e-10, "{} s^{k}: {miss}", stage.id());
                    checked += 1;
                }
            }
        }
        println!("{}: {checked} coefficients, worst {worst:e}", stage.id());
        let id = stage.id();
        assert!(checked >= 6, "{id}: run tests/reference/stages.py");
    }
}
