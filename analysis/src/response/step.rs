//! The answer to a unit step.

use nalgebra::{DMatrix, DVector};

use super::{StateSpace, Transfer};

/// Samples `y(k·dt)`, k = 0 … count−1, of the answer of stages in a row to a unit step at t = 0 from
/// rest; `dt` in seconds.
///
/// Each stage's state space in controllable canonical form, fed by the one before it and the first by
/// the step as one more state, is carried on by the matrix exponential over `dt` (Åström and Wittenmark,
/// "Computer-Controlled Systems", 2.3: zero-order hold). So there is no error of a step's length, and `dt` may be long
/// against the fastest pole; the exponential itself is a Padé function with scaling and squaring, good to rounding,
/// which squarings make larger where `dt` is many of the fastest time constants.
///
/// An improper function (more zeros than poles), whose answer would hold an impulse, gives NaN.
pub fn step_response(stages: &[&Transfer], dt: f64, count: usize) -> Vec<f64> {
    let row = stages.iter().try_fold(StateSpace::gain(1.0), |row, stage| {
        Some(row.then(&StateSpace::of(stage)?))
    });
    let Some(row) = row else {
        return vec![f64::NAN; count];
    };
    let states = row.order();
    let mut system = DMatrix::zeros(states + 1, states + 1);
    system.view_mut((0, 0), (states, states)).copy_from(&row.a);
    system.view_mut((0, states), (states, 1)).copy_from(&row.b);
    let signal = row.c.insert_column(states, row.d);
    let forward = (system * dt).exp();
    let mut state = DVector::zeros(states + 1);
    state[states] = 1.0;
    (0..count)
        .map(|_| {
            let y = (&signal * &state)[0];
            state = &forward * &state;
            y
        })
        .collect()
}
