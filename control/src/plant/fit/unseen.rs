//! What may hold a plant below its sweep without showing in it.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

use super::columns::{Columns, dot};
use super::data::Data;
use super::descent::Descent;
use super::judge;
use super::low_end::LowEnd;
use super::terms;
use crate::plant::{Mode, Model, Rigid};

/// So many standard deviations are not excluded.
const SIGMAS: f64 = 3.0;

/// A low end that the sweep cannot exclude, because it begins too high to see it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unseen {
    /// What the plant then is.
    pub low_end: LowEnd,
    /// Corner of the friction, or frequency of the suspension, at most, Hz.
    pub up_to: f64,
}

impl Unseen {
    /// The model with it, as strong as it may be. Above the sweep's begin both answer alike.
    pub fn in_model(&self, model: &Model) -> Model {
        let mut with = model.clone();
        let Some(rigid) = &mut with.rigid else {
            return with;
        };
        if self.low_end.has_corner() {
            rigid.friction = Some(self.up_to);
            return with;
        }
        let damping = rigid.friction.map_or(0.0, |f| 0.5 * f / self.up_to);
        let suspension = Mode {
            frequency: self.up_to,
            damping: damping.max(LIGHT),
            residue: rigid.gain,
            slope: 0.0,
        };
        with.rigid = None;
        with.modes.insert(0, suspension);
        with
    }

    /// Frequency below which the plant's answer would be another, Hz.
    pub fn corner(&self, model: &Model) -> f64 {
        let friction = model.rigid.and_then(|rigid| rigid.friction);
        match friction {
            // An overdamped suspension's slow pole.
            Some(friction) => self.up_to * self.up_to / friction,
            None => self.up_to,
        }
    }
}

/// Damping of a suspension of which nothing is known.
const LIGHT: f64 = 0.05;

/// What a model's sweep cannot exclude, in the data's units: by how far one more term to first order may go before
/// it would have shown (a score test's interval; Rao, "Linear Statistical Inference", 6e; from memory).
pub(super) fn unseen(descent: &Descent, data: &Data) -> Vec<Unseen> {
    let Some(rigid) = descent.model.rigid else {
        return Vec::new();
    };
    let end = LowEnd::of(&descent.model);
    let further: &[LowEnd] = match end {
        LowEnd::Inertia => &[LowEnd::Friction, LowEnd::Spring],
        LowEnd::Friction => &[LowEnd::Spring],
        LowEnd::Integrator => &[LowEnd::Lag],
        _ => &[],
    };
    let mut columns = descent.columns(data);
    columns.orthogonalise(0);
    let noise =
        judge::noise(descent.cost, descent.unknowns(), data) * judge::alike(&descent.residual);
    let common = terms::common(&descent.model, data);
    let bound = |low_end: &LowEnd| {
        let own = column(&rigid, *low_end, &common, data);
        let most = most(&columns, &own, &descent.residual, noise)?;
        // A friction's corner is a rate itself, a spring's stiffness the square of one.
        let omega = if low_end.has_corner() {
            most
        } else {
            most.sqrt()
        };
        Some(Unseen {
            low_end: *low_end,
            up_to: omega / TAU,
        })
    };
    further.iter().filter_map(bound).collect()
}

/// How the answer changes with a corner, or with a stiffness, that is still 0.
fn column(rigid: &Rigid, low_end: LowEnd, common: &[Complex64], data: &Data) -> Vec<f64> {
    let at = |(&omega, d): (&f64, &Complex64)| {
        let s = Complex64::new(0.0, omega);
        let own = rigid.of(s);
        if low_end.has_corner() {
            -d * own / s
        } else {
            -d * own * rigid.shape(s)
        }
    };
    let mut column = Columns::new(data.rows());
    column.push_complex(data.omega.iter().zip(common).map(at));
    column.column(0).to_vec()
}

/// The largest factor of a column that is not excluded; none where the sweep says nothing of it.
fn most(columns: &Columns, own: &[f64], residual: &[f64], noise: f64) -> Option<f64> {
    let mut rest = own.to_vec();
    for k in 0..columns.count() {
        let share = dot(columns.column(k), &rest);
        let unit = columns.column(k);
        rest.iter_mut().zip(unit).for_each(|(x, u)| *x -= share * u);
    }
    let square = dot(&rest, &rest);
    if square <= 1e-12 * dot(own, own) {
        return None;
    }
    // The residual is model less measured.
    let estimate = -dot(&rest, residual) / square;
    let deviation = (noise / square).sqrt();
    let most = estimate.max(0.0) + SIGMAS * deviation;
    (most > 0.0 && most.is_finite()).then_some(most)
}
