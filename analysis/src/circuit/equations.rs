//! A circuit's equations as numbers: `(G + s·C)·x = b`.
//!
//! Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan, "The modified nodal approach to network analysis", IEEE Trans.
//! CAS-22(6), 1975). The unknowns are the voltages of all nodes besides ground, the currents out of the op amps' output
//! pins, and the currents out of the sources at the inputs, in this order.

use nalgebra::DMatrix;

use super::{Kind, Netlist, Node};

/// A netlist's equations with its parts' values.
pub struct Equations<'a> {
    pub(super) netlist: &'a Netlist,
    /// What does not hang on s, and what goes with it (s).
    pub(super) constant: DMatrix<f64>,
    pub(super) rising: DMatrix<f64>,
    /// How many nodes besides ground, and the op amps' places among the parts.
    pub(super) nodes: usize,
    pub(super) op_amps: Vec<usize>,
}

impl<'a> Equations<'a> {
    /// The equations of a netlist. `values` are those of [`super::Program`]: Ω, F, and of an op amp 1/A0, 1/GBW (s) and Ro
    /// (Ω), part by part; none where they are too few.
    pub fn of(netlist: &'a Netlist, values: &[f64]) -> Option<Equations<'a>> {
        let nodes = netlist.nodes().len() - 1;
        let parts = netlist.parts().iter().enumerate();
        let op_amps: Vec<usize> = parts
            .filter(|(_, part)| matches!(part.kind, Kind::OpAmp { .. }))
            .map(|(place, _)| place)
            .collect();
        let size = nodes + op_amps.len() + netlist.inputs().len();
        let mut constant = DMatrix::zeros(size, size);
        let mut rising = DMatrix::zeros(size, size);
        let (mut value, mut own) = (values.iter().copied(), nodes);
        for part in netlist.parts() {
            let numbers: Vec<f64> = value.by_ref().take(part.kind.inputs()).collect();
            match (part.kind, &numbers[..]) {
                (Kind::Resistor { a, b }, [resistance]) => {
                    stamp(&mut constant, (a, b), 1.0 / resistance);
                }
                (Kind::Capacitor { a, b }, [capacitance]) => {
                    stamp(&mut rising, (a, b), *capacitance);
                }
                (Kind::OpAmp { plus, minus, out }, [gain, bandwidth, resistance]) => {
                    // (V(out) + Ro·I)/A(s) = V(plus) − V(minus), I out of the pin.
                    let own_place = Some(own);
                    add(&mut constant, (column(out), own_place), -1.0);
                    let inverses = [*gain, bandwidth / std::f64::consts::TAU];
                    for (matrix, inverse) in [&mut constant, &mut rising].into_iter().zip(inverses)
                    {
                        add(matrix, (own_place, column(out)), inverse);
                        add(matrix, (own_place, own_place), inverse * resistance);
                    }
                    add(&mut constant, (own_place, column(plus)), -1.0);
                    add(&mut constant, (own_place, column(minus)), 1.0);
                    own += 1;
                }
                _ => return None,
            }
        }
        for (place, &node) in netlist.inputs().iter().enumerate() {
            let source = Some(nodes + op_amps.len() + place);
            add(&mut constant, (column(node), source), -1.0);
            add(&mut constant, (source, column(node)), 1.0);
        }
        Some(Equations {
            netlist,
            constant,
            rising,
            nodes,
            op_amps,
        })
    }

    /// Whose equations they are.
    pub fn netlist(&self) -> &'a Netlist {
        self.netlist
    }

    /// The op amps' places among the netlist's parts.
    pub fn op_amps(&self) -> &[usize] {
        &self.op_amps
    }

    /// How many unknowns there are.
    pub(super) fn size(&self) -> usize {
        self.constant.nrows()
    }

    /// The row in which an input's voltage stands.
    pub(super) fn source(&self, input: usize) -> usize {
        self.nodes + self.op_amps.len() + input
    }
}

/// A node's column; none for ground.
pub(super) fn column(node: Node) -> Option<usize> {
    node.checked_sub(1)
}

fn add(matrix: &mut DMatrix<f64>, (row, column): (Option<usize>, Option<usize>), value: f64) {
    if let (Some(row), Some(column)) = (row, column) {
        matrix[(row, column)] += value;
    }
}

fn stamp(matrix: &mut DMatrix<f64>, (a, b): (Node, Node), admittance: f64) {
    for (here, there) in [(a, b), (b, a)] {
        add(matrix, (column(here), column(here)), admittance);
        add(matrix, (column(here), column(there)), -admittance);
    }
}
