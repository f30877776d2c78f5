//! The exact solution: part values that meet the ask with the real op amp, before any shelf.

use nalgebra::{DMatrix, DVector};

use crate::stages::{Alike, Model, Scratch};

/// Part values that meet the ask as closely as they can, and how the misses move round them.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Values in the netlist's order.
    pub values: Vec<f64>,
    /// Misses there, see [`crate::stages::Yardstick::terms`].
    pub terms: Vec<f64>,
    /// Figures there, hints for reading curves nearby.
    pub figures: Vec<f64>,
    /// `slopes[m]` is how the terms change with [`Move`] `m`.
    pub slopes: Vec<Vec<f64>>,
    /// How far each [`Move`] has gone from what the stage's design equations give.
    gone: Vec<f64>,
}

/// A direction in which values may move: the logarithm of parts that are alike, or a divider's
/// fraction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    Parts(Alike),
    /// The fraction lower/(upper + lower), reached by the lower part, or by the upper one when the
    /// lower is pinned.
    Divider {
        upper: usize,
        lower: usize,
        by_upper: bool,
    },
}

impl Move {
    /// Where the move stands: ln of a value, or a fraction.
    pub fn position(self, values: &[f64]) -> f64 {
        match self {
            Move::Parts(parts) => values[parts[0]].ln(),
            Move::Divider { upper, lower, .. } => values[lower] / (values[upper] + values[lower]),
        }
    }

    /// Moves by `step` in units of [`Move::position`]; a fraction stays inside (0, 1).
    pub fn go(self, values: &mut [f64], step: f64) {
        match self {
            Move::Parts(parts) => {
                let factor = step.clamp(-3.0, 3.0).exp();
                parts.iter().for_each(|&part| values[part] *= factor);
            }
            Move::Divider {
                upper,
                lower,
                by_upper,
            } => {
                let k = self.position(values);
                let k = (k + step).clamp(k / 4.0, 1.0 - (1.0 - k) / 4.0);
                if by_upper {
                    values[upper] = values[lower] * (1.0 - k) / k;
                } else {
                    values[lower] = values[upper] * k / (1.0 - k);
                }
            }
        }
    }
}

/// The moves that a stage's grouping leaves when some parts are pinned (`pinned[part]`).
pub fn moves(model: &Model, pinned: &[bool]) -> Vec<Move> {
    let grouping = model.stage.grouping();
    let parts = grouping
        .solved
        .iter()
        .copied()
        .filter(|parts| !parts.iter().any(|&p| pinned[p]))
        .map(Move::Parts);
    let dividers = grouping
        .dividers
        .iter()
        .filter(|(upper, lower)| !(pinned[*upper] && pinned[*lower]))
        .map(|&(upper, lower)| Move::Divider {
            upper,
            lower,
            by_upper: pinned[lower],
        });
    parts.chain(dividers).collect()
}

/// Solves for the free parts: the stage's own design equations as a start, then Gauss–Newton on the
/// terms with the model's op amp (Nocedal and Wright, "Numerical Optimization", 10.3), at most six
/// rounds, or until no term misses by more than `close` limits. `values` carries the chosen parts
/// and, where `pinned`, the pinned ones; `like` is the solution for a similar set, which makes it shorter.
///
/// None when the response there cannot be read at all.
pub fn solve(
    model: &Model,
    values: &[f64],
    pinned: &[bool],
    close: f64,
    like: Option<&Solution>,
    scratch: &mut Scratch,
) -> Option<Solution> {
    let shape = model.term_shape();
    let moves = moves(model, pinned);
    let designed = start(model, values, pinned);
    let hint = like.map(|like| like.figures.as_slice());
    let mut look = |values: &[f64]| {
        let figures = model.figures(values, hint, scratch);
        let terms = model.terms(values, Some(&figures), scratch);
        (figures, terms)
    };
    let mut values = designed.clone();
    // What the real op amp asks for is mostly the same there; not where a start is out of its limits.
    for (movement, gone) in moves.iter().zip(like.map_or(&[][..], |like| &like.gone)) {
        movement.go(&mut values, *gone);
    }
    let (mut figures, mut terms) = look(&values);
    if like.is_some() && shape.miss(&terms) >= 1.0 {
        values.clone_from(&designed);
        (figures, terms) = look(&values);
    }
    let mut slopes = Vec::new();
    for round in 0..6 {
        if terms.iter().any(|t| !t.is_finite()) {
            return None;
        }
        slopes = slopes_at(model, &values, &terms, &figures, &moves, scratch);
        if shape.miss(&terms) < close || moves.is_empty() {
            break;
        }
        let step = gauss_newton(&slopes, &terms)?;
        let mut next = values.clone();
        for (movement, step) in moves.iter().zip(step.iter()) {
            movement.go(&mut next, step.clamp(-0.7, 0.7));
        }
        let found = model.terms(&next, Some(&figures), scratch);
        let better = shape.miss(&found) < shape.miss(&terms);
        if !better && round > 0 {
            break;
        }
        if better {
            let gain = shape.miss(&terms) - shape.miss(&found);
            values = next;
            terms = found;
            figures = model.figures(&values, Some(&figures), scratch);
            if gain < 1e-6 {
                break;
            }
        }
    }
    let from = |movement: &Move| movement.position(&values) - movement.position(&designed);
    Some(Solution {
        gone: moves.iter().map(from).collect(),
        values,
        terms,
        figures,
        slopes,
    })
}

/// The least-squares step, with a trace of damping for moves that do nothing.
fn gauss_newton(slopes: &[Vec<f64>], terms: &[f64]) -> Option<DVector<f64>> {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let size = slopes.len();
    let mut normal = DMatrix::from_fn(size, size, |i, j| dot(&slopes[i], &slopes[j]));
    let damping = 1e-12 * normal.trace();
    for i in 0..size {
        normal[(i, i)] += damping;
    }
    let right = DVector::from_fn(size, |i, _| -dot(&slopes[i], terms));
    Some(normal.cholesky()?.solve(&right))
}

/// The stage's design equations, with pinned values put back and a pinned half of a divider met by
/// the other half.
fn start(model: &Model, given: &[f64], pinned: &[bool]) -> Vec<f64> {
    let mut values = given.to_vec();
    model.stage.solve(&model.ask, &mut values);
    let wanted = values.clone();
    for (part, &is_pinned) in pinned.iter().enumerate() {
        if is_pinned {
            values[part] = given[part];
        }
    }
    // Parts that are to be alike follow one that is pinned.
    for parts in model.stage.grouping().solved {
        if let Some(&one) = parts.iter().find(|&&part| pinned[part]) {
            for &part in parts.iter().filter(|&&part| !pinned[part]) {
                values[part] = given[one];
            }
        }
    }
    for &(upper, lower) in model.stage.grouping().dividers {
        match (pinned[upper], pinned[lower]) {
            (true, false) => values[lower] = values[upper] * wanted[lower] / wanted[upper],
            (false, true) => values[upper] = values[lower] * wanted[upper] / wanted[lower],
            _ => {}
        }
    }
    values
}

/// Forward differences of the terms for each move.
pub fn slopes_at(
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
