//! What a cause is worth when all values are integrated out.
//!
//! Importance sampling (MacKay, ch. 29.2) from Laplace's approximation about the most probable values (ch. 27 and 28):
//! the laws of the parts are exact, the response is straight about these values. The noise is an unknown like others: with 1/σ as
//! what is known of it, a sum of squares S counts as S^(−n/2).

use nalgebra::DVector;
use statrs::distribution::{ContinuousCDF, Normal};

use super::fit::{BROAD, Fit};
use super::predict::Unknowns;
use super::prior::{NumberLaw, bell};
use crate::random::uniform;

/// Boards that are drawn from what is known of one cause.
const DRAWS: usize = 256;
/// Half of all parts that are outside of their law are out by less than this, as a logarithm, or by less than this
/// many times their reach.
const HALF_OFF: f64 = 0.08;
const REACHES: f64 = 1.5;
/// The same of what lies behind the stages.
const HALF_BEHIND: f64 = 0.1;
/// Boards are drawn this much wider than the normal law.
const WIDER: f64 = 1.1;
/// What a part inside of its law counts as one that is outside, as a logarithm.
const INSIDE: f64 = -60.0;

/// What a cause is worth, and boards that might have made the measurement by it.
#[derive(Clone)]
pub(super) struct Evidence {
    /// Logarithm of its evidence, up to what all causes have in common.
    pub ln: f64,
    /// Unknowns, with weights that add up to 1.
    pub draws: Vec<(DVector<f64>, f64)>,
    /// Means and standard deviations of the unknowns.
    pub mean: DVector<f64>,
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
    let normal = Normal::standard();
    let mut state = seed;
    let size = fit.z.len();
    let mut white = DVector::zeros(size);
    let mut draws = Vec::with_capacity(DRAWS);
    for _ in 0..DRAWS {
        for one in white.iter_mut() {
            *one = normal.inverse_cdf(uniform(&mut state).clamp(1e-12, 1.0 - 1e-12));
        }
        let z = posterior.draw(&(&white * WIDER));
        let x = fit.unknowns_of(unknowns, laws, z.as_slice());
        let misfit = 0.5 * count * ((fit.square_at(&x) - least) / least).max(-0.999).ln_1p();
        let ln = 0.5 * white.norm_squared() - 0.5 * z.norm_squared() - misfit;
        draws.push((ln + correction(fit, unknowns, laws, &x), x));
    }
    let most = draws.iter().map(|draw| draw.0).fold(f64::MIN, f64::max);
    let weights: Vec<f64> = draws.iter().map(|draw| (draw.0 - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let volume = size as f64 * WIDER.ln() - posterior.half_ln_determinant();
    let ln = most + (total / draws.len() as f64).ln() + volume;
    let draws = draws.into_iter().zip(&weights);
    let draws: Vec<(DVector<f64>, f64)> = draws.map(|((_, x), w)| (x, w / total)).collect();
    let mean = draws
        .iter()
        .fold(DVector::zeros(unknowns.count()), |sum, (x, w)| sum + x * *w);
    let variance = draws
        .iter()
        .fold(DVector::zeros(unknowns.count()), |sum, (x, w)| {
            sum + (x - &mean).map(|d| d * d) * *w
        });
    ln.is_finite().then(|| Evidence {
        ln,
        deviations: variance.iter().map(|v: &f64| v.sqrt()).collect(),
        mean,
        draws,
    })
}

/// The logarithm of the density of a part that is outside of its law over the broad normal one that the fit took.
fn correction(fit: &Fit, unknowns: &Unknowns, laws: &[NumberLaw], x: &DVector<f64>) -> f64 {
    let Some(k) = fit.broad else {
        return 0.0;
    };
    let (half, reach) = match unknowns.numbers.get(k) {
        Some(&number) if !laws[number].is_outside(x[k]) => return INSIDE,
        Some(&number) => {
            let reach = laws[number].reach();
            (HALF_OFF.max(REACHES * reach), reach)
        }
        None => (HALF_BEHIND, 0.0),
    };
    // A Cauchy law without its middle.
    let left = 1.0 - std::f64::consts::FRAC_2_PI * (reach / half).atan();
    let density = 1.0 / (std::f64::consts::PI * half * (1.0 + (x[k] / half).powi(2)) * left);
    (density / bell(x[k], BROAD)).ln()
}
