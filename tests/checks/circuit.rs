//! The expansion against a dense complex nodal solve (tests/reference/nodal.py: NumPy, refined with
//! mpmath) and against SymPy's symbolic nodal analysis (tests/reference/symbolic.py).

use std::collections::BTreeMap;

use num_complex::Complex64;
use polewright::circuit::{Kind, Netlist, Program, Scale};
use serde::Deserialize;

#[derive(Deserialize)]
struct Circuit {
    name: String,
    input: String,
    output: String,
    parts: Vec<Part>,
}

#[derive(Deserialize)]
struct Part {
    name: String,
    kind: String,
    nodes: Vec<String>,
}

#[derive(Clone, Deserialize)]
struct OpAmp {
    #[serde(default)]
    name: String,
    inverse_gain: f64,
    inverse_gbw_hz: f64,
    output_resistance: f64,
}

#[derive(Deserialize)]
struct Nodal {
    frequencies_hz: Vec<f64>,
    op_amps: Vec<OpAmp>,
    circuits: Vec<Answers>,
}

#[derive(Deserialize)]
struct Answers {
    name: String,
    value_sets: Vec<BTreeMap<String, f64>>,
    responses: Vec<Response>,
}

#[derive(Deserialize)]
struct Response {
    op_amp: String,
    value_set: usize,
    h: Vec<[f64; 2]>,
}

fn netlist(circuit: &Circuit) -> Netlist {
    circuit.parts.iter().fold(
        Netlist::new(&circuit.input, &circuit.output),
        |netlist, part| {
            let node = |at: usize| part.nodes[at].as_str();
            match part.kind.as_str() {
                "R" => netlist.resistor(&part.name, node(0), node(1)),
                "C" => netlist.capacitor(&part.name, node(0), node(1)),
                "opamp" => netlist.op_amp(&part.name, node(0), node(1), node(2)),
                other => panic!("{other}"),
            }
        },
    )
}

fn inputs(netlist: &Netlist, values: &BTreeMap<String, f64>, op_amp: &OpAmp) -> Vec<f64> {
    netlist
        .parts()
        .iter()
        .flat_map(|part| match part.kind {
            Kind::OpAmp { .. } => vec![
                op_amp.inverse_gain,
                op_amp.inverse_gbw_hz,
                op_amp.output_resistance,
            ],
            _ => vec![values[&part.name]],
        })
        .collect()
}

const SCALE: Scale = Scale {
    omega: 1e4,
    impedance: 1e4,
};

#[test]
fn response_over_nine_decades() {
    let circuits: Vec<Circuit> = super::reference::read("netlists");
    let nodal: Nodal = super::reference::read("nodal");
    let mut points = 0;
    let mut worst = (0.0f64, String::new());
    for answers in &nodal.circuits {
        let circuit = circuits
            .iter()
            .find(|c| c.name == answers.name)
            .expect("a netlist of that name");
        let netlist = netlist(circuit);
        let program = Program::expand(&netlist).expect("a circuit with an answer");
        for response in &answers.responses {
            let op_amp = nodal
                .op_amps
                .iter()
                .find(|o| o.name == response.op_amp)
                .expect("a known op amp");
            let values = &answers.value_sets[response.value_set];
            let h = program.transfer(&inputs(&netlist, values, op_amp), SCALE);
            let passband = h.at(1.0).norm().min(1.0);
            for (&f, &[re, im]) in nodal.frequencies_hz.iter().zip(&response.h) {
                let expected = Complex64::new(re, im);
                let miss = (h.at(f) - expected).norm();
                // At the bottom of a null the answer is a difference of equal things: there the
                // relative error is allowed to be that of the things.
                let relative = miss
                    / expected
                        .norm()
                        .max(1e-3 * passband * f64::from(u8::from(near_null(f))));
                if relative > worst.0 {
                    worst = (
                        relative,
                        format!("{}, {} op amp, {f} Hz", answers.name, response.op_amp),
                    );
                }
                points += 1;
            }
        }
    }
    assert!(points > 3000, "{points} points");
    assert!(worst.0 < 1e-9, "{} at {}", worst.0, worst.1);
}

/// The two frequencies that the reference adds to hit the nominal notches.
fn near_null(f: f64) -> bool {
    (2349.0..2352.0).contains(&f)
}

#[derive(Deserialize)]
struct Symbolic {
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

#[test]
fn coefficients_as_symbols_give_them() {
    let circuits: Vec<Circuit> = super::reference::read("netlists");
    let symbolic: Symbolic = super::reference::read("symbolic");
    let mut checked = 0;
    for function in &symbolic.functions {
        let circuit = circuits
            .iter()
            .find(|c| function.name.starts_with(&c.name) || c.name == function.name)
            .unwrap_or_else(|| panic!("no netlist for {}", function.name));
        let netlist = netlist(circuit);
        let program = Program::expand(&netlist).expect("a circuit with an answer");
        for sample in &function.samples {
            let h = program.transfer(&inputs(&netlist, &sample.values, &sample.op_amp), SCALE);
            let unscaled = |c: &[f64]| -> Vec<f64> {
                (0..c.len())
                    .map(|k| c[k] / h.den[0] / SCALE.omega.powi(k as i32))
                    .collect()
            };
            for (found, expected) in [
                (unscaled(&h.num), &sample.numerator),
                (unscaled(&h.den), &sample.denominator),
            ] {
                for k in 0..found.len().max(expected.len()) {
                    let (a, b) = (
                        found.get(k).copied().unwrap_or(0.0),
                        expected.get(k).copied().unwrap_or(0.0),
                    );
                    let size = b
                        .abs()
                        .max(sample.denominator.get(k).copied().unwrap_or(0.0).abs());
                    assert!(
                        (a - b).abs() <= 1e-11 * size,
                        "{}: s^{k}: {a} against {b}",
                        function.name
                    );
                    checked += 1;
                }
            }
        }
    }
    assert!(checked > 200, "{checked} coefficients");
}

#[test]
fn shared_minors_keep_a_large_circuit_small() {
    // Four real op amps: written out flat, hundreds of thousands of products.
    let circuits: Vec<Circuit> = super::reference::read("netlists");
    let circuit = circuits
        .iter()
        .find(|c| c.name == "state-variable notch")
        .expect("the state-variable notch");
    let program = Program::expand(&netlist(circuit)).expect("a circuit with an answer");
    assert!(
        program.step_count() < 1000,
        "{} steps",
        program.step_count()
    );
}

#[test]
fn no_coefficient_that_always_cancels() {
    // Two capacitors and one op amp are three states, though the rows multiply to a fourth power.
    let circuits: Vec<Circuit> = super::reference::read("netlists");
    let notch = circuits
        .iter()
        .find(|c| c.name == "multiple-feedback notch")
        .expect("the notch");
    let program = Program::expand(&netlist(notch)).expect("a circuit with an answer");
    assert_eq!(program.sizes(), (4, 4));
}

#[test]
fn circuits_without_an_answer_are_refused() {
    use polewright::circuit::NetlistError;
    let hanging = Netlist::new("in", "out")
        .resistor("R1", "in", "0")
        .capacitor("C1", "out", "free");
    assert_eq!(
        Program::expand(&hanging).err(),
        Some(NetlistError::Singular)
    );
    let twice = Netlist::new("in", "out")
        .op_amp("U1", "in", "out", "out")
        .op_amp("U2", "in", "0", "out");
    assert_eq!(
        Program::expand(&twice).err(),
        Some(NetlistError::DrivenTwice("out".into()))
    );
    let backwards = Netlist::new("in", "out")
        .op_amp("U1", "out", "0", "in")
        .resistor("R1", "in", "out");
    assert_eq!(
        Program::expand(&backwards).err(),
        Some(NetlistError::DrivenInput("in".into()))
    );
}
