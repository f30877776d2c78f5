//! The answer to a unit step.

use nalgebra::{DMatrix, DVector, RowDVector};

use super::Transfer;

/// Samples `y(k·dt)`, k = 0 … count−1, of the answer of stages in a row to a unit step at t = 0 from
/// rest; `dt` in seconds.
///
/// Each stage's state space in controllable canonical form, fed by the one before it and the first by
/// the step as one more state, is carried on by the matrix exponential over `dt`: exact at the samples
/// however stiff the circuits are (Åström and Wittenmark, "Computer-Controlled Systems", 2.3:
/// zero-order hold).
///
/// An improper function (more zeros than poles), whose answer would hold an impulse, gives NaN.
pub fn step_response(stages: &[&Transfer], dt: f64, count: usize) -> Vec<f64> {
    let Some(stages) = stages
        .iter()
        .map(|t| States::of(t))
        .collect::<Option<Vec<_>>>()
    else {
        return vec![f64::NAN; count];
    };
    let states: usize = stages.iter().map(|stage| stage.read.len()).sum();
    let mut system = DMatrix::zeros(states + 1, states + 1);
    // The signal between two stages, as a sum of states.
    let mut signal = RowDVector::zeros(states + 1);
    signal[states] = 1.0;
    let mut first = 0;
    for stage in &stages {
        let order = stage.read.len();
        for k in 0..order {
            if k + 1 < order {
                system[(first + k, first + k + 1)] = stage.rate;
            }
            system[(first + order - 1, first + k)] -= stage.rate * stage.back[k];
        }
        if order > 0 {
            let mut fed = system.row_mut(first + order - 1);
            fed += &signal * stage.rate;
        }
        signal *= stage.through;
        for (k, read) in stage.read.iter().enumerate() {
            signal[first + k] += read;
        }
        first += order;
    }
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

/// A proper transfer function as a chain of integrators.
struct States {
    /// What a state changes by in a second, per unit of its derivative.
    rate: f64,
    /// How the states feed the last one back.
    back: Vec<f64>,
    read: Vec<f64>,
    through: f64,
}

impl States {
    fn of(transfer: &Transfer) -> Option<States> {
        let order = transfer.den.iter().rposition(|&c| c != 0.0).unwrap_or(0);
        let degree = transfer.num.iter().rposition(|&c| c != 0.0);
        if degree.is_some_and(|degree| degree > order) {
            return None;
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
        let back: Vec<f64> = (0..order).map(|k| scaled(&transfer.den, k)).collect();
        Some(States {
            rate: transfer.omega * scale,
            read: (0..order)
                .map(|k| scaled(&transfer.num, k) - through * back[k])
                .collect(),
            back,
            through,
        })
    }
}
