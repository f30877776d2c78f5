//! Poles of the closed loop with its delay, as far as the choice of the time step needs them.

use num_complex::Complex64;

use super::laplace::at;
use crate::feedback::OpenLoop;
use crate::plant::Model;
use crate::response::{StateSpace, Transfer};

/// A pole of the closed loop.
#[derive(Clone, Copy, Debug)]
pub(super) struct ClosedPole {
    /// rad/s.
    pub at: Complex64,
    /// Residue of 1/(1 + L) there, rad/s; 0 where it could not be told.
    pub residue: Complex64,
}

/// Where 1 + L = 0.
///
/// First as eigenvalues with a Padé approximant in place of the delay (Golub and Van Loan, "Matrix
/// Computations", 9.3), then by Newton's method on `ln(−L) = 0` with the delay itself. Poles that only the
/// approximant has, or that a zero of L hides, stay where they are without a residue.
pub(super) fn closed_poles(open: &OpenLoop, model: &Model) -> Vec<ClosedPole> {
    let starts = starts(open, model).into_iter();
    starts.map(|pole| polished(open, model, pole)).collect()
}

/// The poles with the approximant, rad/s.
pub(super) fn starts(open: &OpenLoop, model: &Model) -> Vec<Complex64> {
    let Some(states) = open.states() else {
        return Vec::new();
    };
    let row = match pade(model.delay) {
        Some(delay) => states.then(&delay),
        None => states,
    };
    let found = row
        .closed()
        .filter(|closed| closed.a.iter().all(|v| v.abs() < 1e100));
    found.map(|closed| closed.poles()).unwrap_or_default()
}

fn polished(open: &OpenLoop, model: &Model, first: Complex64) -> ClosedPole {
    let mut pole = first;
    for _ in 0..12 {
        let (l, slope) = at(open, model, pole);
        let step = (-l).ln() / slope;
        pole -= step;
        if !pole.is_finite() || (pole - first).norm() > 0.3 * first.norm() {
            break;
        }
        if step.norm() <= 1e-9 * pole.norm() {
            // L = −1, so that L' is minus the slope of its logarithm.
            return ClosedPole {
                at: pole,
                residue: -1.0 / slope,
            };
        }
    }
    ClosedPole {
        at: first,
        residue: Complex64::ZERO,
    }
}

/// e^(−s·delay) of order 6 over 6; none without a delay.
fn pade(delay: f64) -> Option<StateSpace> {
    const ORDER: i32 = 6;
    let mut den = vec![1.0];
    for k in 0..ORDER {
        let last = den[k as usize];
        den.push(last * f64::from(ORDER - k) / f64::from((2 * ORDER - k) * (k + 1)));
    }
    let num = den
        .iter()
        .enumerate()
        .map(|(k, c)| if k % 2 == 0 { *c } else { -c });
    let approximant = Transfer {
        num: num.collect(),
        omega: 1.0 / delay,
        den,
    };
    (delay > 0.0 && approximant.omega.is_finite()).then(|| StateSpace::of(&approximant))?
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Plant, Rigid};

    /// s + k·e^(−sT) = 0: for k·T = 1/e a double real pole at −1/T; below, the slow one by Lambert's W.
    #[test]
    fn an_integrator_with_a_delay() {
        let model = Model {
            rigid: Some(Rigid::new(1, 2.0)),
            delay: 0.05,
            ..Model::default()
        };
        let open = OpenLoop {
            stages: Vec::new(),
            plant: Plant::Model(&model),
            sign: 1.0,
        };
        let poles = closed_poles(&open, &model);
        let slow = poles
            .iter()
            .min_by(|a, b| a.at.norm().total_cmp(&b.at.norm()))
            .expect("poles");
        // W(−0.1)/0.05
        assert!((slow.at.re + 0.111_832_559_158_962_97 / 0.05).abs() < 1e-9);
        assert!((slow.residue.re - slow.at.re / (1.0 - 0.111_832_559_158_962_97)).abs() < 1e-8);
    }
}
