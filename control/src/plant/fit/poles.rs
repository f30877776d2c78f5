//! Starting values of the modes: poles by vector fitting.
//!
//! Gustavsen and Semlyen, "Rational approximation of frequency domain responses by vector fitting", IEEE
//! Trans. Power Delivery 14(3), 1999, with the relaxed scaling of Gustavsen, same journal 21(3), 2006 (both
//! from memory). Poles are kept as second-order sections, so that all arithmetic but the eigenvalues is real.

use nalgebra::{DMatrix, linalg::Schur};
use num_complex::Complex64;

use super::columns::{Columns, dot};
use super::data::Data;
use super::terms::{resonance, rigid};
use crate::numerics::put_in_order;
use crate::plant::Rigid;

/// A pole pair: angular frequency and damping ratio, which above 1 means two real poles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pole {
    pub omega: f64,
    pub damping: f64,
}

/// A constant, 1/s and 1/s² beside the pairs.
const LOW_ENDS: u32 = 3;

/// Pairs spread over the sweep by its points, lightly damped as the method wants its start.
pub(super) fn spread(data: &Data, pairs: usize) -> Vec<Pole> {
    let (low, high) = data.range();
    let step = (high / low).powf(1.0 / pairs.max(1) as f64);
    (0..pairs)
        .map(|k| Pole {
            omega: low * step.powf(k as f64 + 0.5),
            damping: 0.02,
        })
        .collect()
}

/// Most pairs for which the sweep has points enough to find them.
pub(super) fn most_pairs(data: &Data) -> usize {
    // A relocation has four unknowns a pair beside the low ends and the scaling.
    (data.rows().saturating_sub(LOW_ENDS as usize + 3)) / 5
}

/// One relocation of the poles for the response with `delay` taken out. `None` when it fails.
pub(super) fn relocated(poles: &[Pole], delay: f64, data: &Data) -> Option<Vec<Pole>> {
    let count = poles.len();
    let turned = weighted(delay, data);
    let weights = || data.weight.iter().map(|&w| Complex64::new(w, 0.0));
    // One row more: the scaling function's mean real part is held at 1, weighted like the rest.
    let mut columns = Columns::new(data.rows() + 1);
    shares(poles, weights(), data, &mut columns);
    let fixed = columns.count();
    pairs(poles, turned.iter().map(|p| -p), data, &mut columns);
    columns.push_complex(turned.iter().map(|p| -p));
    let row = data.rows();
    let factor = 1.0 / (data.omega.len() as f64).sqrt();
    for (k, pole) in poles.iter().enumerate() {
        let sum: Complex64 = data
            .omega
            .iter()
            .map(|&w| resonance(w, pole.omega, pole.damping))
            .sum();
        let moved: Complex64 = data
            .omega
            .iter()
            .map(|&w| resonance(w, pole.omega, pole.damping) * Complex64::new(0.0, w))
            .sum();
        columns.set(row, fixed + 2 * k, factor * sum.re);
        columns.set(row, fixed + 2 * k + 1, factor * moved.re);
    }
    let scaling = fixed + 2 * count;
    columns.set(row, scaling, factor * data.omega.len() as f64);
    let mut right = vec![0.0; row + 1];
    right[row] = factor * data.omega.len() as f64;
    columns.push(&right);
    let r = columns.orthogonalise(1);
    let found = r.solution(scaling + 1, scaling + 1);
    let d = found[scaling];
    // A vanishing constant would send the zeros to infinity (Gustavsen 2006 does the same).
    let d = if d.abs() < 1e-6 {
        1e-6f64.copysign(d)
    } else {
        d
    };
    zeros(poles, &found[fixed..scaling], d)
}

/// Zeros of `d + Σ (a + b·s)/(s² + 2ζωs + ω²)`, turned into the left half-plane.
fn zeros(poles: &[Pole], numerators: &[f64], d: f64) -> Option<Vec<Pole>> {
    let size = 2 * poles.len();
    let mut matrix = DMatrix::<f64>::zeros(size, size);
    for (k, pole) in poles.iter().enumerate() {
        matrix[(2 * k, 2 * k + 1)] = pole.omega;
        matrix[(2 * k + 1, 2 * k)] = -pole.omega;
        matrix[(2 * k + 1, 2 * k + 1)] = -2.0 * pole.damping * pole.omega;
        for row in 0..poles.len() {
            matrix[(2 * row + 1, 2 * k)] -= numerators[2 * k] / (pole.omega * d);
            matrix[(2 * row + 1, 2 * k + 1)] -= numerators[2 * k + 1] / d;
        }
    }
    if poles.is_empty() || matrix.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let schur = Schur::try_new(matrix, 1e-14, 500)?;
    let found = schur.complex_eigenvalues();
    let mut poles = Vec::with_capacity(poles.len());
    let mut reals = Vec::new();
    for z in found.iter() {
        if z.im > 0.0 {
            let omega = z.norm();
            poles.push(Pole {
                omega,
                damping: (z.re.abs() / omega).max(1e-5),
            });
        } else if z.im == 0.0 {
            reals.push(z.re.abs().max(1e-9));
        }
    }
    reals.sort_by(f64::total_cmp);
    for pair in reals.chunks_exact(2) {
        let omega = (pair[0] * pair[1]).sqrt();
        poles.push(Pole {
            omega,
            damping: (pair[0] + pair[1]) / (2.0 * omega),
        });
    }
    put_in_order(&mut poles, |a, b| a.omega.total_cmp(&b.omega));
    let sound = poles
        .iter()
        .all(|p| p.omega.is_finite() && p.damping.is_finite());
    (sound && !poles.is_empty()).then_some(poles)
}

/// What the poles leave of the response with `delay` taken out: the sum of squares.
pub(super) fn left(poles: &[Pole], delay: f64, data: &Data) -> f64 {
    let mut columns = Columns::new(data.rows());
    let weights = data.weight.iter().map(|&w| Complex64::new(w, 0.0));
    shares(poles, weights, data, &mut columns);
    columns.push_complex(weighted(delay, data).into_iter());
    let last = columns.count() - 1;
    columns.orthogonalise(1);
    dot(columns.column(last), columns.column(last))
}

fn weighted(delay: f64, data: &Data) -> Vec<Complex64> {
    (0..data.omega.len())
        .map(|i| data.response[i] * data.weight[i] * Complex64::cis(data.omega[i] * delay))
        .collect()
}

/// Columns of the low ends and of all pairs.
fn shares(
    poles: &[Pole],
    weights: impl Iterator<Item = Complex64> + Clone,
    data: &Data,
    columns: &mut Columns,
) {
    for n in 0..LOW_ENDS {
        columns.push_complex(
            data.omega
                .iter()
                .zip(weights.clone())
                .map(|(&omega, w)| w * rigid(omega, Some(Rigid::new(n, 1.0)))),
        );
    }
    pairs(poles, weights, data, columns);
}

/// Columns `1/q` and `s/q` of each pair, times `factors`.
fn pairs(
    poles: &[Pole],
    factors: impl Iterator<Item = Complex64> + Clone,
    data: &Data,
    columns: &mut Columns,
) {
    for pole in poles {
        let share: Vec<Complex64> = data
            .omega
            .iter()
            .zip(factors.clone())
            .map(|(&omega, f)| f * resonance(omega, pole.omega, pole.damping))
            .collect();
        columns.push_complex(share.iter().copied());
        columns.push_complex(
            data.omega
                .iter()
                .zip(&share)
                .map(|(&omega, share)| share * Complex64::new(0.0, omega)),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Model};
    use std::f64::consts::TAU;

    #[test]
    fn the_poles_of_a_rational_plant_are_found() {
        let mode = |frequency: f64, damping: f64, residue: f64| Mode {
            frequency,
            damping,
            residue,
            slope: 0.0,
        };
        let model = Model {
            rigid: Some(Rigid::new(2, 1.0)),
            modes: vec![mode(0.1, 0.01, 0.8), mode(0.25, 0.005, -0.5)],
            lag: None,
            delay: 0.0,
        };
        let omega: Vec<f64> = (0..120).map(|i| 0.1 * 1.04f64.powi(i)).collect();
        let response: Vec<Complex64> = omega.iter().map(|w| model.at(w / TAU)).collect();
        let data = Data {
            weight: response.iter().map(|p| 1.0 / p.norm()).collect(),
            trust: vec![1.0; response.len()],
            omega,
            response,
        };
        let mut poles = spread(&data, 2);
        for _ in 0..6 {
            poles = relocated(&poles, 0.0, &data).expect("poles");
        }
        for (pole, mode) in poles.iter().zip(&model.modes) {
            assert!((pole.omega / (TAU * mode.frequency) - 1.0).abs() < 1e-6);
            assert!((pole.damping / mode.damping - 1.0).abs() < 1e-4);
        }
        assert!(left(&poles, 0.0, &data) < 1e-12);
    }
}
