//! From a netlist to a straight program: nodal analysis, and a determinant by kept minors.
//!
//! Kirchhoff's current law at every node that is neither ground nor the input gives a square matrix
//! with one more column for the input. At an op amp's output the law is replaced by the op amp's own
//! equation with the output current put in,
//!
//! `Ro·e(s)·Σ Y·ΔV + e(s)·V(out) − (V(plus) − V(minus)) = 0`, with `e(s) = 1/A(s) = 1/A0 + s/(2π·GBW)`,
//!
//! which holds for every op amp down to the ideal one (`e = 0`, `Ro = 0`) without a division.
//!
//! Both determinants of Cramer's rule are expanded row by row. A minor is known by the columns that
//! it still has, is worked out once, and is shared between all that need it, numerator and
//! denominator alike: a determinant decision diagram (C.-J. Shi and X.-D. Tan, "Canonical symbolic
//! analysis of large analog circuits with determinant decision diagrams", IEEE Trans. CAD 19(1),
//! 2000), here with polynomials in s at its vertices.

use std::collections::HashMap;

use super::builder::{Builder, Poly, Value, negated};
use super::program::{Program, Register};
use super::{Kind, Netlist, NetlistError, Node};
use crate::numerics::put_in_order;

/// Nodes beyond this many would not fit the column sets.
const MOST_NODES: usize = 30;

impl Program {
    /// Expands the netlist's transfer function V(output)/V(input).
    ///
    /// ```
    /// use analysis::circuit::{Netlist, Program, Scale};
    /// let low_pass = Netlist::new("in", "out").resistor("R1", "in", "out").capacitor("C1", "out", "0");
    /// let program = Program::expand(&low_pass)?;
    /// let h = program.transfer(&[1e3, 1e-6], Scale { omega: 1e3, impedance: 1e3 });
    /// assert!((h.at(1e3 / std::f64::consts::TAU).norm() - 0.5f64.sqrt()).abs() < 1e-12);
    /// # Ok::<(), analysis::circuit::NetlistError>(())
    /// ```
    ///
    /// # Errors
    /// When two sources drive a node, when the equations have no single answer whatever the values, or when the netlist
    /// is too large.
    pub fn expand(netlist: &Netlist) -> Result<Program, NetlistError> {
        Program::expand_from(netlist, 0)
    }

    /// The same from another of the netlist's inputs, the rest grounded.
    ///
    /// # Errors
    /// As [`Program::expand`].
    pub fn expand_from(netlist: &Netlist, input: usize) -> Result<Program, NetlistError> {
        let netlist = &netlist.driven_at(input);
        if netlist.nodes().len() > MOST_NODES {
            return Err(NetlistError::TooLarge(MOST_NODES));
        }
        // The order of the rows decides how much is shared: a few good guesses are tried.
        let inputs = netlist.parts().iter().map(|part| part.kind.inputs()).sum();
        let pattern = entries(netlist, &mut Builder::new(inputs)?)?;
        let mut best: Option<Program> = None;
        for order in orders(&pattern) {
            let mut builder = Builder::new(inputs)?;
            let rows = entries(netlist, &mut builder)?;
            // Both determinants change sign together when rows change places.
            let rows: Vec<Vec<Poly>> = order.iter().map(|&row| rows[row].clone()).collect();
            let program = expand_rows(netlist, builder, &rows)?;
            if best
                .as_ref()
                .is_none_or(|b| program.step_count() < b.step_count())
            {
                best = Some(program);
            }
        }
        best.ok_or(NetlistError::Singular)
    }
}

/// Orders of the rows worth trying: from each node outwards along the entries, so that rows with
/// common columns stand close (E. Cuthill and J. McKee, ACM national conference, 1969), and backwards.
fn orders(pattern: &[Vec<Poly>]) -> Vec<Vec<usize>> {
    let size = pattern.len();
    let joined = |a: usize, b: usize| !pattern[a][b].is_empty() || !pattern[b][a].is_empty();
    let mut orders = vec![(0..size).collect()];
    for start in 0..size {
        let mut order = vec![start];
        let mut next = 0;
        while order.len() < size {
            let mut found: Vec<usize> = match order.get(next) {
                Some(&here) => (0..size)
                    .filter(|&row| joined(here, row) && !order.contains(&row))
                    .collect(),
                None => (0..size)
                    .filter(|row| !order.contains(row))
                    .take(1)
                    .collect(),
            };
            put_in_order(&mut found, |&a, &b| {
                filled(&pattern[a]).cmp(&filled(&pattern[b]))
            });
            order.extend(found);
            next += 1;
        }
        orders.push(order.iter().rev().copied().collect());
        orders.push(order);
    }
    orders
}

fn filled(row: &[Poly]) -> usize {
    row.iter().filter(|entry| !entry.is_empty()).count()
}

/// Which column a node's voltage has: none for ground, the last one for the input.
fn column(netlist: &Netlist, node: Node) -> Option<usize> {
    let input = netlist.input();
    match node {
        0 => None,
        n if n == input => Some(netlist.nodes().len() - 2),
        n if n > input => Some(n - 2),
        n => Some(n - 1),
    }
}

/// The nodal equations, a row for each node that is neither ground nor the input, a column for each
/// of these nodes and one for the input behind them.
fn entries(netlist: &Netlist, builder: &mut Builder) -> Result<Vec<Vec<Poly>>, NetlistError> {
    let unknowns = netlist.nodes().len() - 2;
    let mut rows = vec![vec![Poly::new(); unknowns + 1]; unknowns];
    let row_of = |node| column(netlist, node).filter(|&row| row < unknowns);

    let mut place: Register = 1;
    let mut op_amps = Vec::new();
    for part in netlist.parts() {
        let value = Value::input(place);
        match part.kind {
            Kind::Resistor { a, b } => stamp(builder, &mut rows, netlist, (a, b), &vec![value]),
            Kind::Capacitor { a, b } => {
                stamp(
                    builder,
                    &mut rows,
                    netlist,
                    (a, b),
                    &vec![Value::Zero, value],
                );
            }
            Kind::OpAmp { plus, minus, out } => op_amps.push((place, plus, minus, out)),
        }
        place += part.kind.inputs() as Register;
    }

    let mut driven = Vec::new();
    for (place, plus, minus, out) in op_amps {
        let name = netlist.nodes()[out].clone();
        let row = row_of(out).ok_or(NetlistError::DrivenInput(name.clone()))?;
        if driven.contains(&row) {
            return Err(NetlistError::DrivenTwice(name));
        }
        driven.push(row);
        let inverse_gain = vec![Value::input(place), Value::input(place + 1)];
        let resistance = vec![Value::input(place + 2)];
        let weight = builder.poly_mul(&resistance, &inverse_gain);
        for entry in &mut rows[row] {
            *entry = builder.poly_mul(entry, &weight);
        }
        let one = vec![Value::ONE];
        for (node, term) in [(out, inverse_gain), (plus, negated(&one)), (minus, one)] {
            if let Some(column) = column(netlist, node) {
                rows[row][column] = builder.poly_add(&rows[row][column], &term);
            }
        }
    }
    Ok(rows)
}

/// Adds an admittance between two nodes to their current laws.
fn stamp(
    builder: &mut Builder,
    rows: &mut [Vec<Poly>],
    netlist: &Netlist,
    (a, b): (Node, Node),
    admittance: &Poly,
) {
    for (here, there) in [(a, b), (b, a)] {
        let Some(row) = column(netlist, here).filter(|&row| row < rows.len()) else {
            continue;
        };
        let minus = negated(admittance);
        for (node, term) in [(here, admittance), (there, &minus)] {
            if let Some(column) = column(netlist, node) {
                rows[row][column] = builder.poly_add(&rows[row][column], term);
            }
        }
    }
}

/// Cramer's rule for the output's column, by minors that are kept and shared.
struct Minors<'a> {
    rows: &'a [Vec<Poly>],
    builder: Builder,
    kept: HashMap<u32, Poly>,
}

impl Minors<'_> {
    /// The determinant of the last `columns.count_ones()` rows over these columns.
    fn minor(&mut self, columns: u32) -> Poly {
        if columns == 0 {
            return vec![Value::ONE];
        }
        if let Some(known) = self.kept.get(&columns) {
            return known.clone();
        }
        let row = self.rows.len() - columns.count_ones() as usize;
        let mut sum = Poly::new();
        let mut rest = columns;
        let mut negative = false;
        while rest != 0 {
            let column = rest.trailing_zeros();
            rest &= rest - 1;
            let entry = self.rows[row][column as usize].clone();
            if !entry.is_empty() {
                let minor = self.minor(columns & !(1 << column));
                let product = self.builder.poly_mul(&entry, &minor);
                let term = if negative { negated(&product) } else { product };
                sum = self.builder.poly_add(&sum, &term);
            }
            negative = !negative;
        }
        self.kept.insert(columns, sum.clone());
        sum
    }
}

fn expand_rows(
    netlist: &Netlist,
    builder: Builder,
    rows: &[Vec<Poly>],
) -> Result<Program, NetlistError> {
    let unknowns = rows.len();
    let all: u32 = (1 << unknowns) - 1;
    let mut minors = Minors {
        rows,
        builder,
        kept: HashMap::new(),
    };
    let den = minors.minor(all);
    let num = match column(netlist, netlist.output()) {
        None => Poly::new(),
        Some(output) if output == unknowns => den.clone(),
        Some(output) => {
            let with_input = (all & !(1 << output)) | (1 << unknowns);
            let minor = minors.minor(with_input);
            // The input's column moves into the output's place (unknowns − 1 − output exchanges)
            // and to the other side of the equation (one more sign).
            if (unknowns - output).is_multiple_of(2) {
                minor
            } else {
                negated(&minor)
            }
        }
    };
    if den.is_empty() {
        return Err(NetlistError::Singular);
    }
    let (steps, [num, den]) = minors.builder.finish([&num, &den])?;
    Ok(Program::new(netlist, steps, num, den))
}
