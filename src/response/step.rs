//! The answer to a unit step.

use nalgebra::{DMatrix, DVector};

use super::Transfer;

/// Samples `y(k·dt)`, k = 0 … count−1, of the answer to a unit step at t = 0 from rest; `dt` in seconds.
///
/// The state space in controllable canonical form, with the step as one more state, is carried on by
/// the matrix exponential over `dt`: exact at the samples however stiff the circuit is (Åström and
/// Wittenmark, "Computer-Controlled Systems", 2.3: zero-order hold).
///
/// An improper function (more zeros than poles), whose answer would hold an impulse, gives NaN.
pub fn step_response(transfer: &Transfer, dt: f64, count: usize) -> Vec<f64> {
    let order = transfer.den.iter().rposition(|&c| c != 0.0).unwrap_or(0);
    let degree = transfer.num.iter().rposition(|&c| c != 0.0);
    let Some(degree) = degree else {
        return vec![0.0; count];
    };
    if degree > order {
        return vec![f64::NAN; count];
    }
    // Scale time so that the slowest and fastest poles straddle 1 and the companion stays balanced.
    let lead = transfer.den[order];
    let scale = (transfer.den[0] / lead)
        .abs()
        .powf(1.0 / order.max(1) as f64);
    let scale = if scale.is_normal() { scale } else { 1.0 };
    let scaled = |coefficients: &[f64], k: usize| {
        coefficients.get(k).copied().unwrap_or(0.0) / lead * scale.powi(k as i32 - order as i32)
    };
    let through = scaled(&transfer.num, order);
    let read: Vec<f64> = (0..order)
        .map(|k| scaled(&transfer.num, k) - through * scaled(&transfer.den, k))
        .collect();

    let mut system = DMatrix::zeros(order + 1, order + 1);
    for k in 0..order {
        if k + 1 < order {
            system[(k, k + 1)] = 1.0;
        }
        system[(order - 1, k)] = -scaled(&transfer.den, k);
    }
    if order > 0 {
        system[(order - 1, order)] = 1.0;
    }
    let forward = (system * (dt * transfer.omega * scale)).exp();
    let mut state = DVector::zeros(order + 1);
    state[order] = 1.0;
    (0..count)
        .map(|_| {
            let y = through
                + read
                    .iter()
                    .zip(state.iter())
                    .map(|(c, x)| c * x)
                    .sum::<f64>();
            state = &forward * &state;
            y
        })
        .collect()
}
