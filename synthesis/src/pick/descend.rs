//! Towards the least misses with the real op amp, from a set of values that is somewhere near.

use nalgebra::{DMatrix, DVector};

use super::moves::Move;
use crate::stages::{Model, Scratch, Terms};

/// A set of values and what is known of it.
#[derive(Clone, Debug)]
pub(super) struct Place {
    pub values: Vec<f64>,
    /// Misses there, see [`crate::stages::Yardstick::terms`].
    pub terms: Vec<f64>,
    /// Of the figures there those that make hints for reading curves nearby.
    pub figures: Vec<f64>,
    /// How the terms change with each move; none where that is not known.
    pub slopes: Vec<Vec<f64>>,
}

/// Which misses are made small.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Norm {
    /// Their squares' sum.
    Squares,
    /// The worst one, as their eighth powers' sum.
    Worst,
}

/// What a descent may do.
#[derive(Clone, Copy)]
pub(super) struct Way<'a> {
    pub moves: &'a [Move],
    /// Lowest and highest position of each move; empty for no bounds.
    pub bounds: &'a [(f64, f64)],
    pub norm: Norm,
    /// It ends when no term misses by more.
    pub close: f64,
    pub rounds: usize,
}

/// The longest step, as ln of a ratio or as a fraction.
const LONGEST: f64 = 0.7;
/// Steps that are tried from one place, each shorter than the one before.
const TRIES: usize = 4;
/// It ends when a round makes the sum smaller by less than this share.
const NO_GAIN: f64 = 1e-3;

impl Way<'_> {
    /// The same values with each move brought within its bounds.
    pub fn within(&self, mut values: Vec<f64>) -> Vec<f64> {
        for (movement, &(low, high)) in self.moves.iter().zip(self.bounds) {
            let at = movement.position(&values);
            movement.set(&mut values, at.clamp(low, high));
        }
        values
    }
}

impl Norm {
    /// What is summed in squares, and its slope by the term.
    fn residual(self, term: f64) -> (f64, f64) {
        match self {
            Norm::Squares => (term, 1.0),
            Norm::Worst => (term.powi(4), 4.0 * term.powi(3)),
        }
    }

    fn sum(self, terms: &[f64]) -> f64 {
        terms.iter().map(|t| self.residual(*t).0.powi(2)).sum()
    }
}

impl Place {
    /// What a set is and does; the slopes are not filled in. None when its curve cannot be read.
    pub fn at(
        model: &Model,
        values: Vec<f64>,
        hint: Option<&[f64]>,
        scratch: &mut Scratch,
    ) -> Option<Place> {
        let (terms, figures) = model.terms_and_hints(&values, hint, scratch);
        terms.iter().all(|t| t.is_finite()).then_some(Place {
            values,
            terms,
            figures,
            slopes: Vec::new(),
        })
    }

    pub fn miss(&self, shape: &Terms) -> f64 {
        shape.miss(&self.terms)
    }

    /// Goes down from here by damped least squares (Levenberg and Marquardt; Nocedal and Wright, "Numerical
    /// Optimization", 10.3). All descents of a place go by the same moves.
    pub fn descend(&mut self, model: &Model, way: Way, scratch: &mut Scratch) {
        let shape = model.term_shape();
        let mut damping = 1e-6;
        let mut left = way.rounds;
        loop {
            if left == 0 || way.moves.is_empty() || self.miss(shape) < way.close {
                return;
            }
            self.fill_in_slopes(model, way.moves, scratch);
            let before = way.norm.sum(&self.terms);
            if !self.step(model, way, &mut damping, scratch) {
                return;
            }
            let is_slow = way.norm.sum(&self.terms) > (1.0 - NO_GAIN) * before;
            left = if is_slow { 0 } else { left - 1 };
        }
    }

    /// Fills in the slopes where they are not known.
    pub fn fill_in_slopes(&mut self, model: &Model, moves: &[Move], scratch: &mut Scratch) {
        if self.slopes.len() != moves.len() {
            let (values, terms) = (&self.values, &self.terms);
            self.slopes = slopes_at(model, values, terms, &self.figures, moves, scratch);
        }
    }

    /// One step down, the damping raised until there is one; whether there was.
    fn step(&mut self, model: &Model, way: Way, damping: &mut f64, scratch: &mut Scratch) -> bool {
        let before = way.norm.sum(&self.terms);
        for _ in 0..TRIES {
            let step = self.damped(way, *damping);
            let Some(step) = step.filter(|step| step.iter().all(|by| by.is_finite())) else {
                return false;
            };
            let mut next = self.values.clone();
            for (index, movement) in way.moves.iter().enumerate() {
                let mut by = step[index].clamp(-LONGEST, LONGEST);
                if let Some(&(low, high)) = way.bounds.get(index) {
                    let at = movement.position(&self.values);
                    by = (at + by).clamp(low, high) - at;
                }
                movement.go(&mut next, by);
            }
            let (terms, figures) = model.terms_and_hints(&next, Some(&self.figures), scratch);
            // Not so with a term that is not a number.
            if way.norm.sum(&terms) < before {
                self.slopes.clear();
                self.values = next;
                self.terms = terms;
                self.figures = figures;
                *damping *= 0.1;
                return true;
            }
            *damping = (*damping * 30.0).max(1e-3);
        }
        false
    }

    /// The damped step; moves that stand at a bound and would go beyond it are left out.
    fn damped(&self, way: Way, damping: f64) -> Option<DVector<f64>> {
        let mut stuck = vec![false; way.moves.len()];
        // Once more without those that are stuck.
        for _ in 0..2 {
            let step = self.free_step(way.norm, damping, &stuck)?;
            let mut is_free = true;
            for (index, &(low, high)) in way.bounds.iter().enumerate() {
                let at = way.moves[index].position(&self.values);
                let hair = 1e-9 * (high - low).abs().max(1e-3);
                let beyond = (step[index] < 0.0 && at <= low + hair)
                    || (step[index] > 0.0 && at >= high - hair);
                if beyond && !stuck[index] {
                    stuck[index] = true;
                    is_free = false;
                }
            }
            if is_free {
                return Some(step);
            }
        }
        self.free_step(way.norm, damping, &stuck)
    }

    fn free_step(&self, norm: Norm, damping: f64, stuck: &[bool]) -> Option<DVector<f64>> {
        let size = self.slopes.len();
        let weighed: Vec<(f64, f64)> = self.terms.iter().map(|t| norm.residual(*t)).collect();
        let dot = |a: &[f64], b: &[f64]| -> f64 {
            let all = a.iter().zip(b).zip(&weighed);
            all.map(|((a, b), (_, slope))| a * b * slope * slope).sum()
        };
        let mut normal = DMatrix::from_fn(size, size, |i, j| match stuck[i] || stuck[j] {
            true => 0.0,
            false => dot(&self.slopes[i], &self.slopes[j]),
        });
        let trace = normal.trace();
        if trace == 0.0 {
            return None;
        }
        for i in 0..size {
            let own = normal[(i, i)];
            normal[(i, i)] += damping * own + 1e-12 * trace;
        }
        let right = DVector::from_fn(size, |i, _| match stuck[i] {
            true => 0.0,
            false => {
                let all = self.slopes[i].iter().zip(&weighed);
                -all.map(|(s, (r, slope))| s * slope * r).sum::<f64>()
            }
        });
        Some(normal.cholesky()?.solve(&right))
    }
}

/// Forward differences of the terms for each move.
pub(super) fn slopes_at(
    model: &Model,
    values: &[f64],
    terms: &[f64],
    figures: &[f64],
    moves: &[Move],
    scratch: &mut Scratch,
) -> Vec<Vec<f64>> {
    const STEP: f64 = 1e-6;
    let moved = moves.iter().map(|movement| {
        let mut moved = values.to_vec();
        movement.go(&mut moved, STEP);
        moved
    });
    let sets: Vec<Vec<f64>> = moved.collect();
    let mut slopes = model.terms_of_sets(&sets, Some(figures), scratch);
    for slope in &mut slopes {
        for (slope, term) in slope.iter_mut().zip(terms) {
            *slope = (*slope - term) / STEP;
        }
    }
    slopes
}
