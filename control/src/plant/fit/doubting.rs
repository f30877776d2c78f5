//! Modes that may be artefacts of single outliers.

use super::data::Data;
use super::descent::{COARSE, Descent};
use super::judge;
use super::terms::{common, resonance};
use num_complex::Complex64;
use std::f64::consts::TAU;

/// A mode whose share at one point holds this part of its energy over all points is doubted.
const ALONE: f64 = 0.5;
/// Most steps of a descent that settles a doubt.
const MOST_STEPS: u32 = 15;

/// Holding, in pieces, each doubtful mode against the claim that its point is bad: with the point set aside, a
/// mode still explains its neighbours, and a bad point's does not.
#[derive(Clone, Debug)]
pub(super) struct Doubting {
    suspects: Vec<(usize, usize)>,
    trial: Option<Box<Trial>>,
}

#[derive(Clone, Debug)]
struct Trial {
    data: Data,
    with: Descent,
    without: Descent,
}

/// What a step came to.
#[derive(Clone, Debug)]
pub(super) enum Verdict {
    /// There is more to do.
    Open,
    /// A point to set aside, and the model without the mode that stood for it.
    Bad(usize, Box<Descent>),
    /// All modes stand.
    Done,
}

impl Doubting {
    pub fn new(descent: &Descent, data: &Data) -> Doubting {
        let least = usize::from(descent.model.rigid.is_none());
        let count = descent.model.modes.len();
        let common = common(&descent.model, data);
        let suspect = |k: usize| sharpest(k, descent, &common, data).map(|point| (k, point));
        Doubting {
            suspects: if count > least {
                (0..count).filter_map(suspect).collect()
            } else {
                Vec::new()
            },
            trial: None,
        }
    }

    /// Does a small piece.
    pub fn step(&mut self, descent: &Descent, data: &Data) -> Verdict {
        let Some(&(mode, point)) = self.suspects.last() else {
            return Verdict::Done;
        };
        let trial = self
            .trial
            .get_or_insert_with(|| Box::new(begun(mode, point, descent, data)));
        if trial.with.step(&trial.data).is_pending() || trial.without.step(&trial.data).is_pending()
        {
            return Verdict::Open;
        }
        self.suspects.pop();
        match self.trial.take() {
            Some(trial) if judge::better(&trial.without, &trial.with, &trial.data) => {
                Verdict::Bad(point, Box::new(trial.without))
            }
            _ => Verdict::Open,
        }
    }
}

fn begun(mode: usize, point: usize, descent: &Descent, data: &Data) -> Trial {
    let mut data = data.clone();
    data.weight[point] = 0.0;
    let mut with = descent.clone();
    let mut without = descent.clone();
    without.model.modes.remove(mode);
    without.free.modes.remove(mode);
    with.resume(COARSE, &data);
    without.resume(COARSE, &data);
    Trial {
        with: with.at_most(MOST_STEPS),
        without: without.at_most(MOST_STEPS),
        data,
    }
}

/// The point that a mode may stand for: the one that holds most of its share, or the one by which it passes
/// more sharply than there are points.
fn sharpest(k: usize, descent: &Descent, common: &[Complex64], data: &Data) -> Option<usize> {
    let mode = descent.model.modes[k];
    let natural = TAU * mode.frequency;
    let energy = |(&omega, d): (&f64, &Complex64)| {
        let numerator = Complex64::new(mode.residue, mode.slope * omega);
        (d * numerator * resonance(omega, natural, mode.damping)).norm_sqr()
    };
    let energies: Vec<f64> = data.omega.iter().zip(common).map(energy).collect();
    let all: f64 = energies.iter().sum();
    let (point, most) = largest(energies.into_iter())?;
    if most > ALONE * all {
        return Some(point);
    }
    let reach = 2.0 * mode.damping * natural;
    let inside = data.omega.iter().filter(|w| (**w - natural).abs() < reach);
    if inside.count() > 1 {
        return None;
    }
    let weighted = data.omega.iter().zip(&data.weight);
    let near = weighted.map(|(&w, &weight)| {
        if weight > 0.0 {
            -(w - natural).abs()
        } else {
            f64::MIN
        }
    });
    largest(near).map(|(point, _)| point)
}

fn largest(values: impl Iterator<Item = f64>) -> Option<(usize, f64)> {
    values.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))
}
