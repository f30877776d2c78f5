//! A circuit at one frequency, as numbers: every node's voltage and every op amp's current, and what a disturbance
//! anywhere does to one node.
//!
//! Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan, "The modified nodal approach to network analysis", IEEE Trans.
//! CAS-22(6), 1975). One factorised matrix answers for a signal at the input; the same, transposed, answers for all
//! disturbances at once (the adjoint network: S. Director, R. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
//! Trans. CT-16(3), 1969).

use nalgebra::{DMatrix, DVector, Dyn, LU};
use num_complex::Complex64;

use super::{Kind, Netlist, Node};

/// A netlist's equations at one frequency.
pub struct Nodal<'a> {
    netlist: &'a Netlist,
    factors: LU<Complex64, Dyn, Dyn>,
    /// How many nodes besides ground, and the op amps' places among the parts.
    nodes: usize,
    op_amps: Vec<usize>,
}

/// What 1 V at an input makes of a circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Of every node, ground's first, V.
    pub voltages: Vec<Complex64>,
    /// Out of every op amp's output pin, A, in the netlist's order.
    pub currents: Vec<Complex64>,
}

/// What disturbances do to one node's voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Influence {
    /// Of a current into each node from ground, V/A; ground's first.
    currents: Vec<Complex64>,
    /// Of a voltage in series with each op amp's input, V/V.
    inputs: Vec<Complex64>,
    /// Of a voltage at each of the netlist's inputs, V/V.
    sources: Vec<Complex64>,
}

impl<'a> Nodal<'a> {
    /// The equations at an angular frequency (rad/s, above 0 or 0). `values` are those of [`super::Program`]: Ω, F, and of
    /// an op amp 1/A0, 1/GBW (s) and Ro (Ω), part by part. None where they have no single answer.
    pub fn at(netlist: &'a Netlist, values: &[f64], omega: f64) -> Option<Nodal<'a>> {
        let nodes = netlist.nodes().len() - 1;
        let op_amps: Vec<usize> = netlist
            .parts()
            .iter()
            .enumerate()
            .filter(|(_, part)| matches!(part.kind, Kind::OpAmp { .. }))
            .map(|(place, _)| place)
            .collect();
        let sources = netlist.inputs().len();
        let size = nodes + op_amps.len() + sources;
        let mut matrix = DMatrix::<Complex64>::zeros(size, size);
        let s = Complex64::new(0.0, omega);
        let one = Complex64::new(1.0, 0.0);
        let mut add = |row: Option<usize>, column: Option<usize>, value: Complex64| {
            if let (Some(row), Some(column)) = (row, column) {
                matrix[(row, column)] += value;
            }
        };
        let (mut value, mut op_amp) = (values.iter().copied(), nodes);
        for part in netlist.parts() {
            let numbers: Vec<f64> = value.by_ref().take(part.kind.inputs()).collect();
            match (part.kind, &numbers[..]) {
                (Kind::Resistor { a, b }, [resistance]) => {
                    stamp(&mut add, (a, b), one / *resistance);
                }
                (Kind::Capacitor { a, b }, [capacitance]) => {
                    stamp(&mut add, (a, b), s * *capacitance);
                }
                (Kind::OpAmp { plus, minus, out }, [gain, bandwidth, resistance]) => {
                    // (V(out) + Ro·I)/A(s) = V(plus) − V(minus), I out of the pin.
                    let error = s * *bandwidth / std::f64::consts::TAU + *gain;
                    let own = Some(op_amp);
                    add(column(out), own, -one);
                    add(own, column(out), error);
                    add(own, own, error * *resistance);
                    add(own, column(plus), -one);
                    add(own, column(minus), one);
                    op_amp += 1;
                }
                _ => return None,
            }
        }
        for (place, &node) in netlist.inputs().iter().enumerate() {
            let source = Some(nodes + op_amps.len() + place);
            add(column(node), source, -one);
            add(source, column(node), one);
        }
        let factors = matrix.lu();
        factors.is_invertible().then_some(Nodal {
            netlist,
            factors,
            nodes,
            op_amps,
        })
    }

    /// With 1 V at one of the netlist's inputs, the others grounded.
    pub fn answer(&self, input: usize) -> Option<Answer> {
        let mut known = self.zeros();
        let source = self.nodes + self.op_amps.len() + input;
        *known.get_mut(source)? = Complex64::new(1.0, 0.0);
        let solved = self.factors.solve(&known)?;
        let solved = solved.as_slice();
        Some(Answer {
            voltages: with_ground(&solved[..self.nodes]),
            currents: solved[self.nodes..][..self.op_amps.len()].to_vec(),
        })
    }

    /// On the voltage of a node, all inputs grounded.
    pub fn influence(&self, node: Node) -> Option<Influence> {
        let mut known = self.zeros();
        *known.get_mut(node.checked_sub(1)?)? = Complex64::new(1.0, 0.0);
        // P·A = L·U, and so the transpose of A is that of U times that of L times P.
        let known = self.factors.u().tr_solve_upper_triangular(&known)?;
        let mut solved = self.factors.l().tr_solve_lower_triangular(&known)?;
        self.factors.p().inv_permute_rows(&mut solved);
        let (nodes, rest) = solved.as_slice().split_at(self.nodes);
        let (inputs, sources) = rest.split_at(self.op_amps.len());
        Some(Influence {
            currents: with_ground(nodes),
            inputs: inputs.to_vec(),
            sources: sources.to_vec(),
        })
    }

    /// The op amps' places among the netlist's parts.
    pub fn op_amps(&self) -> &[usize] {
        &self.op_amps
    }

    /// Whose equations they are.
    pub fn netlist(&self) -> &Netlist {
        self.netlist
    }

    fn zeros(&self) -> DVector<Complex64> {
        DVector::zeros(self.nodes + self.op_amps.len() + self.netlist.inputs().len())
    }
}

impl Influence {
    /// Of 1 A that a part carries from node `a` to node `b`, V.
    pub fn of_current(&self, a: Node, b: Node) -> Complex64 {
        self.currents[b] - self.currents[a]
    }

    /// Of 1 V in series with the plus input of the op amp at this place among the op amps, V.
    pub fn of_input(&self, op_amp: usize) -> Complex64 {
        self.inputs[op_amp]
    }

    /// Of 1 V at one of the netlist's inputs, the others grounded, V: the response from there.
    pub fn of_source(&self, input: usize) -> Complex64 {
        self.sources[input]
    }
}

/// A node's column; none for ground.
fn column(node: Node) -> Option<usize> {
    node.checked_sub(1)
}

fn stamp(
    add: &mut impl FnMut(Option<usize>, Option<usize>, Complex64),
    (a, b): (Node, Node),
    admittance: Complex64,
) {
    for (here, there) in [(a, b), (b, a)] {
        add(column(here), column(here), admittance);
        add(column(here), column(there), -admittance);
    }
}

fn with_ground(voltages: &[Complex64]) -> Vec<Complex64> {
    std::iter::once(Complex64::new(0.0, 0.0))
        .chain(voltages.iter().copied())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An inverting amplifier of gain −10 with an op amp without errors.
    fn inverting() -> (Netlist, Vec<f64>) {
        let netlist = Netlist::new("in", "out")
            .resistor("R1", "in", "minus")
            .resistor("R2", "minus", "out")
            .op_amp("U1", "0", "minus", "out");
        (netlist, vec![1e3, 10e3, 0.0, 0.0, 0.0])
    }

    #[test]
    fn an_inverting_amplifier() {
        let (netlist, values) = inverting();
        let nodal = Nodal::at(&netlist, &values, 1.0).expect("equations");
        let answer = nodal.answer(0).expect("an answer");
        let out = answer.voltages[netlist.output()];
        assert!((out + 10.0).norm() < 1e-12, "{out}");
        // 1 mA through R1 comes out of the op amp's pin backwards.
        assert!((answer.currents[0] + 1e-3).norm() < 1e-15);
        let influence = nodal.influence(netlist.output()).expect("an influence");
        // Noise gain 1 + R2/R1; a current into the summing node sees R2.
        assert!((influence.of_input(0) - 11.0).norm() < 1e-12);
        let minus = netlist.nodes().iter().position(|n| n == "minus");
        let minus = minus.expect("a node");
        assert!((influence.of_current(0, minus) + 10e3).norm() < 1e-8);
        assert!((influence.of_source(0) - out).norm() < 1e-12);
    }

    #[test]
    fn a_node_that_hangs_free_has_no_answer() {
        let netlist = Netlist::new("in", "out").capacitor("C1", "a", "out");
        assert!(Nodal::at(&netlist, &[1e-9], 0.0).is_none());
    }
}
