//! Which low end, and which of the poles found: models to refine.

use num_complex::Complex64;

use super::columns::{Columns, dot, norm};
use super::data::Data;
use super::poles::Pole;
use super::settings::{Free, FreeMode, LowEnd};
use super::terms::{self, DAMPING, Limits, resonance, rigid};
use crate::servo::{Mode, Model, Rigid};
use std::f64::consts::TAU;

/// By how many noise variances the cost must fall for a pole to be taken along.
const WANTED: f64 = 25.0;

/// A model without modes: its low end, a delay and a lag in the data's units.
pub(super) fn bare(low_end: LowEnd, delay: f64, lag: Option<f64>) -> Model {
    Model {
        rigid: low_end.integrators().map(|integrators| Rigid {
            integrators,
            gain: 0.0,
        }),
        modes: Vec::new(),
        lag,
        delay,
    }
}

/// Takes poles into a bare model, each time the one that lowers the cost most (orthogonal least squares), until
/// the fall is within the noise (variance of a row) or `most` are there. Residues are left 0: they are solved
/// for when the model is refined.
///
/// Returns the cost as well.
pub(super) fn with_modes(
    mut model: Model,
    poles: &[Pole],
    noise: f64,
    most: usize,
    data: &Data,
) -> (Model, f64) {
    let limits = Limits::of(data);
    let common = terms::common(&model, data);
    let points = || data.omega.iter().copied().zip(common.iter().copied());
    let mut left = Columns::new(data.rows());
    if let Some(Rigid { integrators, .. }) = model.rigid {
        left.push_complex(points().map(|(omega, d)| d * rigid(omega, integrators)));
    }
    let fixed = left.count();
    let usable = |p: &&Pole| {
        p.damping < 1.0 && p.omega > 2.0 * limits.omega.0 && p.omega < limits.omega.1 / 2.0
    };
    let poles: Vec<Pole> = poles.iter().filter(usable).copied().collect();
    for pole in &poles {
        let share = |(omega, d): (f64, Complex64)| d * resonance(omega, pole.omega, pole.damping);
        left.push_complex(points().map(share));
    }
    let measured = data.response.iter().zip(&data.weight).map(|(p, w)| p * w);
    left.push_complex(measured);
    left.orthogonalise(poles.len() + 1);
    let count = poles.len();
    let mut vectors: Vec<Vec<f64>> = (0..=count)
        .map(|k| left.column(fixed + k).to_vec())
        .collect();
    let Some(mut rest) = vectors.pop() else {
        return (model, f64::INFINITY);
    };
    let lengths: Vec<f64> = vectors.iter().map(|v| norm(v)).collect();
    let mut taken = vec![false; count];
    for round in 0..most.min(count) {
        let fall = |k: usize| {
            let length = norm(&vectors[k]);
            if taken[k] || length < 1e-4 * lengths[k] {
                return 0.0;
            }
            (dot(&rest, &vectors[k]) / length).powi(2)
        };
        let best = (0..count)
            .map(|k| (k, fall(k)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((best, fall)) = best else { break };
        let needed = round == 0 && model.rigid.is_none();
        if fall <= if needed { 0.0 } else { WANTED * noise } {
            break;
        }
        taken[best] = true;
        let length = norm(&vectors[best]);
        let unit: Vec<f64> = vectors[best].iter().map(|x| x / length).collect();
        let others = vectors.iter_mut().chain(std::iter::once(&mut rest));
        for vector in others {
            let share = dot(&unit, vector);
            vector
                .iter_mut()
                .zip(&unit)
                .for_each(|(x, u)| *x -= share * u);
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

/// All of a model's modes and its gain free, and delay and lag as said.
pub(super) fn freed(model: &Model, delay: bool, lag: bool) -> Free {
    Free {
        gain: true,
        modes: vec![FreeMode::USUAL; model.modes.len()],
        lag,
        delay,
    }
}
