//! A circuit at one frequency, as numbers: every node's voltage and every op amp's current, and what a disturbance
//! anywhere does to one node.
//!
//! One factorised matrix of [`Equations`] answers for a signal at the input; its transpose answers for all disturbances at
//! once (the adjoint network: S. Director, R. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
//! Trans. CT-16(3), 1969).

use nalgebra::{DVector, Dyn, LU};
use num_complex::Complex64;

use super::equations::column;
use super::{Equations, Netlist, Node};

/// A netlist's equations at one frequency.
pub struct Nodal<'a> {
    of: Shape<'a>,
    factors: LU<Complex64, Dyn, Dyn>,
}

/// Where unknowns stand.
struct Shape<'a> {
    netlist: &'a Netlist,
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
    /// Out of the source at each input into the circuit, A.
    pub drawn: Vec<Complex64>,
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

impl Equations<'_> {
    /// The equations at an angular frequency (rad/s, above 0 or 0). None where they have no single answer.
    pub fn at(&self, omega: f64) -> Option<Nodal<'_>> {
        let pairs = self.constant.zip_map(&self.rising, |constant, rising| {
            Complex64::new(constant, omega * rising)
        });
        let factors = pairs.lu();
        factors.is_invertible().then(|| Nodal {
            of: Shape {
                netlist: self.netlist,
                nodes: self.nodes,
                op_amps: self.op_amps.clone(),
            },
            factors,
        })
    }
}

impl<'a> Nodal<'a> {
    /// The equations of a netlist at an angular frequency, see [`Equations::of`] and [`Equations::at`].
    pub fn at(netlist: &'a Netlist, values: &[f64], omega: f64) -> Option<Nodal<'a>> {
        let equations = Equations::of(netlist, values)?;
        let nodal = equations.at(omega)?;
        Some(Nodal {
            of: Shape {
                netlist,
                ..nodal.of
            },
            ..nodal
        })
    }

    /// With 1 V at one of the netlist's inputs, the others grounded.
    pub fn answer(&self, input: usize) -> Option<Answer> {
        let mut known = self.zeros();
        let (nodes, op_amps) = (self.of.nodes, self.of.op_amps.len());
        *known.get_mut(nodes + op_amps + input)? = Complex64::new(1.0, 0.0);
        let solved = self.factors.solve(&known)?;
        let solved = solved.as_slice();
        Some(Answer {
            voltages: with_ground(&solved[..nodes]),
            currents: solved[nodes..][..op_amps].to_vec(),
            drawn: solved[nodes + op_amps..].to_vec(),
        })
    }

    /// On the voltage of a node, all inputs grounded.
    pub fn influence(&self, node: Node) -> Option<Influence> {
        let mut known = self.zeros();
        *known.get_mut(column(node)?)? = Complex64::new(1.0, 0.0);
        // P·A = L·U, and so the transpose of A is that of U times that of L times P.
        let known = self.factors.u().tr_solve_upper_triangular(&known)?;
        let mut solved = self.factors.l().tr_solve_lower_triangular(&known)?;
        self.factors.p().inv_permute_rows(&mut solved);
        let (nodes, rest) = solved.as_slice().split_at(self.of.nodes);
        let (inputs, sources) = rest.split_at(self.of.op_amps.len());
        Some(Influence {
            currents: with_ground(nodes),
            inputs: inputs.to_vec(),
            sources: sources.to_vec(),
        })
    }

    /// The op amps' places among the netlist's parts.
    pub fn op_amps(&self) -> &[usize] {
        &self.of.op_amps
    }

    /// Whose equations they are.
    pub fn netlist(&self) -> &Netlist {
        self.of.netlist
    }

    fn zeros(&self) -> DVector<Complex64> {
        DVector::zeros(self.factors.lu_internal().nrows())
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
        assert!((answer.drawn[0] - 1e-3).norm() < 1e-15);
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
