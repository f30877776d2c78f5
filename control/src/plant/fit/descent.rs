//! Refining a model: Levenberg–Marquardt on what does not enter linearly.
//!
//! What enters linearly is solved exactly at every step (variable projection: Golub and Pereyra, "Separable
//! nonlinear least squares", Inverse Problems 19, 2003; steps after Kaufman, BIT 15, 1975; damping by the
//! columns' lengths after Marquardt, J. SIAM 11, 1963; all from memory).

use std::task::Poll;

use num_complex::Complex64;

use super::columns::{Columns, dot};
use super::data::Data;
use super::settings::Free;
use super::terms::{self, Curved, Limits, Linear};
use crate::plant::Model;

/// Steps tried, good or bad, before a descent ends wherever it is.
const MOST_STEPS: u32 = 100;

/// Promise, relative to the cost, at which a descent ends that only serves to compare models: small beside a
/// row's noise when there are some hundred rows.
pub(super) const COARSE: f64 = 1e-3;
/// The same for a model that is told.
pub(super) const FINE: f64 = 1e-11;

/// A model on its way down, in the data's units.
#[derive(Clone, Debug)]
pub(super) struct Descent {
    pub model: Model,
    pub free: Free,
    pub limits: Limits,
    /// Sum of squared weighted residuals.
    pub cost: f64,
    /// Weighted `model − measured`.
    pub residual: Vec<f64>,
    damping: f64,
    steps: u32,
    most_steps: u32,
    /// The linear problem at the model, kept while steps from it fail.
    slope: Option<Slope>,
    /// The cost is settled when a whole step promises less than this share of it.
    tolerance: f64,
    done: bool,
}

/// Unknowns that may move from here, their triangle and the residual on their columns.
#[derive(Clone, Debug)]
struct Slope {
    terms: Vec<Curved>,
    triangle: Vec<Vec<f64>>,
    along: Vec<f64>,
}

impl Descent {
    /// Starts at a model, whose free linear unknowns are solved for at once.
    pub fn new(mut model: Model, free: Free, limits: Limits, data: &Data) -> Descent {
        let (cost, residual) = solved(&mut model, &free, data);
        Descent {
            model,
            free,
            limits,
            cost,
            residual,
            damping: 1e-3,
            steps: 0,
            most_steps: MOST_STEPS,
            slope: None,
            tolerance: COARSE,
            done: false,
        }
    }

    /// Goes on from here, on the same or other data, until a whole step promises less than `tolerance` of the
    /// cost.
    pub fn resume(&mut self, tolerance: f64, data: &Data) {
        let (cost, residual) = solved(&mut self.model, &self.free, data);
        (self.cost, self.residual) = (cost, residual);
        (self.damping, self.steps, self.slope) = (1e-3, 0, None);
        self.most_steps = MOST_STEPS;
        (self.tolerance, self.done) = (tolerance, false);
    }

    /// Ends after `most` steps, wherever it is.
    pub fn at_most(mut self, most: u32) -> Descent {
        self.most_steps = most;
        self
    }

    /// Number of free unknowns.
    pub fn unknowns(&self) -> usize {
        terms::linear(&self.model, &self.free).len() + terms::curved(&self.model, &self.free).len()
    }

    /// Tries one step; ready when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        if self.done || self.steps >= self.most_steps || !self.cost.is_finite() {
            return Poll::Ready(());
        }
        self.steps += 1;
        let slope = match self.slope.take() {
            Some(slope) => slope,
            None => self.look(data),
        };
        let promised = dot(&slope.along, &slope.along);
        // Below 1e-26 of a row's own size there is nothing but rounding.
        if promised <= self.tolerance * self.cost + 1e-26 * data.rows() as f64 {
            self.done = true;
            return Poll::Ready(());
        }
        let mut model = self.model.clone();
        let step = slope.step(self.damping);
        let trust = slope
            .terms
            .iter()
            .zip(&step)
            .fold(1.0f64, |trust, (term, step)| {
                trust.min(term.stride(&self.limits) / step.abs().max(f64::MIN_POSITIVE))
            });
        for (term, step) in slope.terms.iter().zip(&step) {
            term.go(&mut model, trust * step, &self.limits);
        }
        let (cost, residual) = solved(&mut model, &self.free, data);
        if cost < self.cost {
            (self.model, self.cost, self.residual) = (model, cost, residual);
            self.damping = (self.damping / 10.0).max(1e-12);
        } else {
            self.damping *= 10.0;
            self.done = self.damping > 1e10;
            self.slope = Some(slope);
        }
        match self.done {
            true => Poll::Ready(()),
            false => Poll::Pending,
        }
    }

    /// All columns at the model, free linear ones first.
    pub fn columns(&self, data: &Data) -> Columns {
        let (linear, curved) = (
            terms::linear(&self.model, &self.free),
            terms::curved(&self.model, &self.free),
        );
        self.columns_of(&linear, &curved, data)
    }

    fn columns_of(&self, linear: &[Linear], curved: &[Curved], data: &Data) -> Columns {
        let common = terms::common(&self.model, data);
        let answer = terms::answer(&self.model, &common, data);
        let mut columns = Columns::new(data.rows());
        terms::linear_columns(&self.model, linear, &common, data, &mut columns);
        terms::curved_columns(&self.model, curved, &common, &answer, data, &mut columns);
        columns
    }

    fn look(&mut self, data: &Data) -> Slope {
        let linear = terms::linear(&self.model, &self.free);
        let mut curved = terms::curved(&self.model, &self.free);
        let mut columns = self.columns_of(&linear, &curved, data);
        let fixed = linear.len();
        let outward = |j: usize| -dot(columns.column(fixed + j), &self.residual);
        let blocked: Vec<bool> = curved
            .iter()
            .enumerate()
            .map(|(j, term)| term.leads_out(&mut self.model, outward(j), &self.limits))
            .collect();
        if blocked.contains(&true) {
            let mut blocked = blocked.into_iter();
            curved.retain(|_| !blocked.next().unwrap_or(false));
            columns = self.columns_of(&linear, &curved, data);
        }
        columns.push(&self.residual);
        let r = columns.orthogonalise(1);
        let (size, last) = (curved.len(), fixed + curved.len());
        Slope {
            triangle: (0..size)
                .map(|row| (0..size).map(|k| r.at(fixed + row, fixed + k)).collect())
                .collect(),
            along: (0..size).map(|row| r.at(fixed + row, last)).collect(),
            terms: curved,
        }
    }
}

impl Slope {
    /// The step for a damping: least |R·δ + along|² + damping·Σ (length of column j · δⱼ)².
    fn step(&self, damping: f64) -> Vec<f64> {
        let size = self.along.len();
        let mut columns = Columns::new(2 * size);
        for j in 0..size {
            let mut column = vec![0.0; 2 * size];
            for (i, row) in self.triangle.iter().enumerate() {
                column[i] = row[j];
            }
            let length = dot(&column, &column);
            column[size + j] = (damping * length).sqrt();
            columns.push(&column);
        }
        let mut right: Vec<f64> = self.along.iter().map(|a| -a).collect();
        right.resize(2 * size, 0.0);
        columns.push(&right);
        columns.orthogonalise(1).solution(size, size)
    }
}

/// Solves for the free linear unknowns; the cost and the residual there.
fn solved(model: &mut Model, free: &Free, data: &Data) -> (f64, Vec<f64>) {
    let linear = terms::linear(model, free);
    let common = terms::common(model, data);
    for term in &linear {
        if let Some(value) = term.of(model) {
            *value = 0.0;
        }
    }
    let held = terms::answer(model, &common, data);
    let measured = data.response.iter().zip(&data.weight).map(|(p, w)| p * w);
    let missing: Vec<f64> = measured
        .zip(held)
        .map(|(p, held): (Complex64, Complex64)| p - held)
        .flat_map(|z| [z.re, z.im])
        .collect();
    let mut columns = Columns::new(data.rows());
    terms::linear_columns(model, &linear, &common, data, &mut columns);
    columns.push(&missing);
    let r = columns.orthogonalise(1);
    let found = r.solution(linear.len(), linear.len());
    for (term, found) in linear.iter().zip(found) {
        if let Some(value) = term.of(model) {
            *value = found;
        }
    }
    let residual: Vec<f64> = columns.column(linear.len()).iter().map(|x| -x).collect();
    let cost = dot(&residual, &residual);
    (
        if cost.is_finite() {
            cost
        } else {
            f64::INFINITY
        },
        residual,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Rigid};
    use std::f64::consts::TAU;

    #[test]
    fn a_true_model_is_found_from_nearby() {
        let truth = Model {
            rigid: Some(Rigid::new(2, 0.5)),
            modes: vec![Mode {
                frequency: 0.3,
                damping: 0.01,
                residue: -0.2,
                slope: 0.0,
            }],
            lag: None,
            delay: 0.1,
        };
        let omega: Vec<f64> = (0..80).map(|i| 0.1 * 1.06f64.powi(i)).collect();
        let response: Vec<Complex64> = omega.iter().map(|w| truth.at(w / TAU)).collect();
        let data = Data {
            weight: response.iter().map(|p| 1.0 / p.norm()).collect(),
            trust: vec![1.0; response.len()],
            omega,
            response,
        };
        let mut start = truth.clone();
        start.modes[0].frequency *= 1.03;
        start.modes[0].damping = 0.03;
        start.modes[0].residue = 0.0;
        start.delay = 0.0;
        let free = Free::usual(&start);
        let mut descent = Descent::new(start, free, Limits::of(&data), &data);
        descent.resume(1e-10, &data);
        while descent.step(&data).is_pending() {}
        assert!(descent.cost < 1e-20);
        assert!((descent.model.modes[0].residue + 0.2).abs() < 1e-9);
        assert!((descent.model.delay - 0.1).abs() < 1e-9);
    }
}
