//! Looking through a residual for what the model lacks.
//!
//! Score tests: how far the cost would fall, to first order, for one more column beside all that can
//! already move (Rao, Proc. Cambridge Philosophical Society 44, 1948).

use num_complex::Complex64;
use std::f64::consts::TAU;
use std::task::Poll;

use super::columns::{Columns, dot};
use super::data::Data;
use super::descent::Descent;
use super::terms::{self, Linear, resonance};
use crate::numerics::put_in_order;

/// Damping ratios at which a mode is looked for.
const DAMPINGS: [f64; 5] = [0.002, 0.006, 0.02, 0.06, 0.2];
/// Places at which it is looked for: those where the residual is largest, and as many spread evenly.
const PLACES: usize = 20;
/// Multiplications that one step does, about.
const PIECE: usize = 400_000;

/// A mode that the model may lack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lack {
    /// In the data's units, as the model's frequencies.
    pub frequency: f64,
    pub damping: f64,
    /// By how much the cost would fall.
    pub fall: f64,
}

/// A search over places and dampings, in pieces.
#[derive(Clone, Debug)]
pub(super) struct Scan {
    columns: Columns,
    common: Vec<Complex64>,
    places: Vec<f64>,
    next: usize,
    found: Vec<Lack>,
}

impl Scan {
    /// Over the whole sweep.
    pub fn new(descent: &Descent, data: &Data) -> Scan {
        Scan::at(descent, data, places(&descent.residual, data))
    }

    /// At given angular frequencies.
    pub fn at(descent: &Descent, data: &Data, places: Vec<f64>) -> Scan {
        let mut columns = descent.columns(data);
        columns.orthogonalise(0);
        Scan {
            columns,
            common: terms::common(&descent.model, data),
            places,
            next: 0,
            found: Vec::new(),
        }
    }

    /// Looks at some places; ready when all are done.
    pub fn step(&mut self, descent: &Descent, data: &Data) -> Poll<()> {
        let each = DAMPINGS.len() * data.rows() * (self.columns.count() + 4);
        let end = self.next + (PIECE / each.max(1)).max(1);
        while self.next < end.min(self.places.len()) {
            let omega = self.places[self.next];
            for damping in DAMPINGS {
                let mut column = Columns::new(data.rows());
                let points = data.omega.iter().zip(&self.common);
                column.push_complex(points.map(|(&w, d)| d * resonance(w, omega, damping)));
                self.found.push(Lack {
                    frequency: omega / TAU,
                    damping,
                    fall: fall(&self.columns, column.column(0), &descent.residual),
                });
            }
            self.next += 1;
        }
        match self.next < self.places.len() {
            true => Poll::Pending,
            false => Poll::Ready(()),
        }
    }

    /// The best few, no two of them at neighbouring places.
    pub fn best(&self, most: usize) -> Vec<Lack> {
        let mut sorted = self.found.clone();
        put_in_order(&mut sorted, |a, b| b.fall.total_cmp(&a.fall));
        let mut best: Vec<Lack> = Vec::new();
        for lack in sorted {
            let apart = |other: &Lack| (lack.frequency / other.frequency).ln().abs() > 0.05;
            if best.len() < most && best.iter().all(apart) {
                best.push(lack);
            }
        }
        best
    }
}

/// The mode whose slope would lower the cost most, and by how much.
pub(super) fn slope(descent: &Descent, data: &Data) -> Option<(usize, f64)> {
    let mut columns = descent.columns(data);
    columns.orthogonalise(0);
    let common = terms::common(&descent.model, data);
    let held = |k: &usize| !descent.free.modes[*k].slope;
    let of = |k: usize| {
        let mut column = Columns::new(data.rows());
        let term = [Linear::Slope(k)];
        terms::linear_columns(&descent.model, &term, &common, data, &mut column);
        (k, fall(&columns, column.column(0), &descent.residual))
    };
    (0..descent.model.modes.len())
        .filter(held)
        .map(of)
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// How far one more column beside orthonormal ones lowers the cost.
fn fall(columns: &Columns, column: &[f64], residual: &[f64]) -> f64 {
    let all = dot(column, column);
    let mut rest = all;
    let mut along = dot(column, residual);
    for k in 0..columns.count() {
        let share = dot(columns.column(k), column);
        rest -= share * share;
        along -= share * dot(columns.column(k), residual);
    }
    // What is almost a sum of the others would divide rounding by rounding.
    if rest > 1e-8 * all {
        along * along / rest
    } else {
        0.0
    }
}

/// Where to look: about the largest residuals, and evenly over the points.
fn places(residual: &[f64], data: &Data) -> Vec<f64> {
    let count = data.omega.len();
    let energy = |i: usize| {
        let rows = 2 * i.saturating_sub(1)..(2 * i + 4).min(residual.len());
        dot(&residual[rows.clone()], &residual[rows])
    };
    let mut sorted: Vec<usize> = (0..count).collect();
    put_in_order(&mut sorted, |&a, &b| energy(b).total_cmp(&energy(a)));
    let mut places: Vec<usize> = sorted.into_iter().take(PLACES).collect();
    places.extend((0..PLACES).map(|k| (2 * k + 1) * count / (2 * PLACES)));
    put_in_order(&mut places, usize::cmp);
    places.dedup();
    places
        .into_iter()
        .filter_map(|i| data.omega.get(i).copied())
        .collect()
}
