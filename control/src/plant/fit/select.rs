//! Which low end, and which of the poles found: models to refine.

use num_complex::Complex64;

use super::columns::{Columns, dot, norm};
use super::data::Data;
use super::poles::Pole;
use super::settings::{Free, FreeMode};
use super::terms::{self, DAMPING, Limits, resonance, rigid};
use crate::plant::{Mode, Model, Rigid};
use std::f64::consts::TAU;

/// By how many noise variances the cost must fall for a pole to be taken along.
const WANTED: f64 = 25.0;

/// A model without modes: its low end, a delay and a lag in the data's units.
pub(super) fn bare(rigid: Option<Rigid>, delay: f64, lag: Option<f64>) -> Model {
    Model {
        rigid,
        modes: Vec::new(),
        lag,
        delay,
    }
}

/// What poles are taken for, and how far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    /// Whether modes have slopes.
    pub slopes: bool,
    /// Variance of a row: a pole must lower the cost by more.
    pub noise: f64,
    /// Most modes.
    pub most: usize,
}

/// Takes poles into a bare model, each time the one that lowers the cost most (orthogonal least squares), until
/// the fall is within the noise. Residues are left 0: they are solved for when the model is refined.
///
/// Returns the cost as well.
pub(super) fn with_modes(
    mut model: Model,
    poles: &[Pole],
    choice: Choice,
    data: &Data,
) -> (Model, f64) {
    let limits = Limits::of(data);
    let usable = |p: &&Pole| {
        p.damping < 1.0 && p.omega > 2.0 * limits.omega.0 && p.omega < limits.omega.1 / 2.0
    };
    let poles: Vec<Pole> = poles.iter().filter(usable).copied().collect();
    let (mut shares, mut rest) = shares(&model, &poles, choice.slopes, data);
    let wanted = WANTED * choice.noise * if choice.slopes { 1.5 } else { 1.0 };
    let mut taken = vec![false; poles.len()];
    for round in 0..choice.most.min(poles.len()) {
        let fall = |k: usize| if taken[k] { 0.0 } else { shares[k].fall(&rest) };
        let best = (0..poles.len())
            .map(|k| (k, fall(k)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((best, fall)) = best else { break };
        let needed = round == 0 && model.rigid.is_none();
        if fall <= if needed { 0.0 } else { wanted } {
            break;
        }
        taken[best] = true;
        for unit in shares[best].units() {
            let vectors = shares.iter_mut().flat_map(|s| s.vectors.iter_mut());
            for vector in vectors.chain(std::iter::once(&mut rest)) {
                without(vector, &unit);
            }
        }
    }
    let chosen = poles.iter().zip(&taken).filter(|(_, taken)| **taken);
    model.modes = chosen
        .map(|(pole, _)| Mode {
            frequency: pole.omega / TAU,
            damping: pole.damping.clamp(2e-4, 0.9 * DAMPING.1),
            residue: 0.0,
            slope: 0.0,
        })
        .collect();
    let cost = dot(&rest, &rest);
    (model, cost)
}

/// The columns of one pole, as far as they are orthogonal to what is in the model.
struct Share {
    vectors: Vec<Vec<f64>>,
    /// Lengths before anything was taken away.
    lengths: Vec<f64>,
}

impl Share {
    /// Orthonormal directions of the columns that are left.
    fn units(&self) -> Vec<Vec<f64>> {
        let mut units: Vec<Vec<f64>> = Vec::new();
        for (vector, whole) in self.vectors.iter().zip(&self.lengths) {
            let mut vector = vector.clone();
            units.iter().for_each(|unit| without(&mut vector, unit));
            let length = norm(&vector);
            // What is almost a sum of the others would be mostly rounding.
            if length > 1e-4 * whole {
                vector.iter_mut().for_each(|x| *x /= length);
                units.push(vector);
            }
        }
        units
    }

    /// By how much the cost falls with it.
    fn fall(&self, rest: &[f64]) -> f64 {
        self.units()
            .iter()
            .map(|unit| dot(unit, rest).powi(2))
            .sum()
    }
}

/// Columns of all poles and the measured response, orthogonal to the rigid part.
fn shares(model: &Model, poles: &[Pole], slopes: bool, data: &Data) -> (Vec<Share>, Vec<f64>) {
    let common = terms::common(model, data);
    let points = || data.omega.iter().copied().zip(common.iter().copied());
    let mut columns = Columns::new(data.rows());
    if model.rigid.is_some() {
        columns.push_complex(points().map(|(omega, d)| d * rigid(omega, model.rigid)));
    }
    let fixed = columns.count();
    let each = if slopes { 2 } else { 1 };
    for pole in poles {
        let share = |(omega, d): (f64, Complex64)| d * resonance(omega, pole.omega, pole.damping);
        columns.push_complex(points().map(share));
        if slopes {
            columns.push_complex(points().map(|p| share(p) * Complex64::new(0.0, p.0)));
        }
    }
    columns.push_complex(data.response.iter().zip(&data.weight).map(|(p, w)| p * w));
    columns.orthogonalise(each * poles.len() + 1);
    let vector = |k: usize| columns.column(fixed + k).to_vec();
    let share = |k: usize| {
        let vectors: Vec<Vec<f64>> = (each * k..each * (k + 1)).map(vector).collect();
        Share {
            lengths: vectors.iter().map(|v| norm(v)).collect(),
            vectors,
        }
    };
    let shares = (0..poles.len()).map(share).collect();
    (shares, vector(each * poles.len()))
}

/// Takes from a vector what goes along a unit vector.
fn without(vector: &mut [f64], unit: &[f64]) {
    let share = dot(unit, vector);
    vector
        .iter_mut()
        .zip(unit)
        .for_each(|(x, u)| *x -= share * u);
}

/// All of a model's modes and its gain free, no slope, no lag, and the delay as said.
pub(super) fn freed(model: &Model, delay: bool) -> Free {
    Free {
        gain: true,
        friction: true,
        modes: vec![FreeMode::USUAL; model.modes.len()],
        lag: false,
        delay,
    }
}
