//! What a cause is worth when all values are integrated out.
//!
//! Laplace's approximation about the most probable values (MacKay, ch. 27 and 28), and the exact laws of the parts in
//! place of the normal ones by importance sampling from it (ch. 29.2). The noise is an unknown like others: with 1/σ as
//! what is known of it, a sum of squares S counts as S^(−n/2).

use nalgebra::DVector;
use statrs::distribution::{ContinuousCDF, Normal};

use super::fit::{BROAD, Fit, Posterior};
use super::predict::Unknowns;
use super::prior::{NumberLaw, bell};
use crate::random::uniform;

/// Boards that are drawn from what is known of one cause.
const DRAWS: usize = 256;
/// Half of all parts that are outside of their law are out by less than this, as a logarithm, or by less than this
/// many times their reach.
const HALF_OFF: f64 = 0.08;
const REACHES: f64 = 1.5;
/// The same of the measurement's gain and of what lies behind.
const HALF_GAIN: f64 = 0.1;

/// What a cause is worth, and boards that might have made the measurement by it.
#[derive(Clone)]
pub(super) struct Evidence {
    /// Logarithm of its evidence, up to what all causes have in common.
    pub ln: f64,
    /// Unknowns, with weights that add up to 1.
    pub draws: Vec<(DVector<f64>, f64)>,
    /// Standard deviations of the unknowns, by the normal law about their values.
    pub deviations: Vec<f64>,
}

/// The evidence of a fit: `least` is the sum of squares that counts as the noise's own, `count` how many numbers were
/// measured.
pub(super) fn evidence(
    fit: &Fit,
    (unknowns, laws): (&Unknowns, &[NumberLaw]),
    (least, count): (f64, f64),
    seed: u64,
) -> Option<Evidence> {
    let posterior = fit.posterior()?;
    let draws = draws(&posterior, unknowns.count(), seed);
    let corrections: Vec<f64> = draws
        .iter()
        .map(|x| correction(fit, unknowns, laws, x))
        .collect();
    let most = corrections.iter().copied().fold(f64::MIN, f64::max);
    let weights: Vec<f64> = corrections.iter().map(|c| (c - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let ln = coarse(fit, &posterior, (least, count)) + most + (total / draws.len() as f64).ln();
    ln.is_finite().then(|| Evidence {
        ln,
        draws: draws
            .into_iter()
            .zip(weights.iter().map(|w| w / total))
            .collect(),
        deviations: posterior.deviations(),
    })
}

/// Laplace's approximation with the normal laws.
fn coarse(fit: &Fit, posterior: &Posterior, (least, count): (f64, f64)) -> f64 {
    let misfit = 0.5 * count * ((fit.square - least) / least).ln_1p();
    -misfit - 0.5 * fit.strain() - posterior.half_ln_determinant()
}

/// Unknowns drawn from the normal law about a fit.
fn draws(posterior: &Posterior, unknowns: usize, seed: u64) -> Vec<DVector<f64>> {
    let normal = Normal::standard();
    let mut state = seed;
    let mut normals = vec![0.0; unknowns];
    (0..DRAWS)
        .map(|_| {
            normals.fill_with(|| normal.inverse_cdf(uniform(&mut state).clamp(1e-12, 1.0 - 1e-12)));
            posterior.draw(&normals)
        })
        .collect()
}

/// The logarithm of the exact laws' density over the normal ones'.
fn correction(fit: &Fit, unknowns: &Unknowns, laws: &[NumberLaw], x: &DVector<f64>) -> f64 {
    let numbers = unknowns.numbers.iter().enumerate();
    let held = numbers
        .filter(|(k, _)| fit.lawless() != Some(*k))
        .map(|(k, &number)| laws[number].correction(x[k]));
    let mut sum: f64 = held.sum();
    if let Some(k) = fit.broad {
        let (half, reach) = match unknowns.numbers.get(k) {
            Some(&number) => {
                let reach = laws[number].reach();
                let is_inside = !laws[number].is_outside(x[k]);
                if is_inside {
                    return sum - 60.0;
                }
                (HALF_OFF.max(REACHES * reach), reach)
            }
            None => (HALF_GAIN, 0.0),
        };
        // A Cauchy law without its middle.
        let left = 1.0 - std::f64::consts::FRAC_2_PI * (reach / half).atan();
        let density = 1.0 / (std::f64::consts::PI * half * (1.0 + (x[k] / half).powi(2)) * left);
        sum += (density / bell(x[k], BROAD)).ln();
    }
    sum
}
