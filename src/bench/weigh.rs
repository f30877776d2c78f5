//! Causes weighed against each other, and which parts a measurement cannot tell apart.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::evidence::Evidence;
use super::fit::Fit;
use super::predict::Unknowns;
use crate::numerics::put_in_order;

/// A deviation that parts are told apart by, as a logarithm.
const TOLD: f64 = 0.05;
/// By how much the likelier one must be likelier for that, as a logarithm.
const CLEARLY: f64 = 3.0;

/// A cause with its probability.
pub(super) struct Weighed {
    /// Place among the fits.
    pub fit: usize,
    pub evidence: Evidence,
    pub probability: f64,
}

/// Probabilities of causes, the likeliest first.
pub(super) fn weigh(fits: &[Fit], found: Vec<(usize, Evidence)>) -> Vec<Weighed> {
    let ln = |(fit, evidence): &(usize, Evidence)| fits[*fit].chance.ln() + evidence.ln;
    let most = found.iter().map(ln).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = found.iter().map(|one| (ln(one) - most).exp()).sum();
    let mut all: Vec<Weighed> = found
        .into_iter()
        .map(|one| Weighed {
            probability: (ln(&one) - most).exp() / total,
            fit: one.0,
            evidence: one.1,
        })
        .collect();
    put_in_order(&mut all, |a, b| b.probability.total_cmp(&a.probability));
    all
}

/// Pairs of numbers that look alike, and numbers that are not seen.
pub(super) type Untold = (Vec<(usize, usize)>, Vec<usize>);

/// Pairs of numbers whose deviations look alike in this measurement with all other parts anywhere within their laws,
/// and numbers that it does not see at all. By the information that the data hold on both, all others integrated out.
pub(super) fn alike(healthy: &Fit, unknowns: &Unknowns) -> Option<Untold> {
    let normal = &healthy.normal;
    let count = normal.nrows();
    let before = colour(unknowns);
    let mut inverse = before.tr_mul(normal) * &before;
    for k in 0..count {
        inverse[(k, k)] += 1.0;
    }
    // What all unknowns do within their laws is taken out: G = A − A L (1 + Lᵀ A L)⁻¹ Lᵀ A, where L Lᵀ is their covariance.
    let across = before.tr_mul(normal);
    let of: DMatrix<f64> = normal - across.tr_mul(&Cholesky::new(inverse)?.solve(&across));
    let told = |information: f64| 0.5 * TOLD * TOLD * information > CLEARLY;
    let numbers = unknowns.numbers.len();
    let unseen: Vec<usize> = (0..numbers).filter(|&k| !told(of[(k, k)])).collect();
    let mut pairs = Vec::new();
    for a in 0..numbers {
        for b in a + 1..numbers {
            if unseen.contains(&a) || unseen.contains(&b) {
                continue;
            }
            // What is left of one when the other may move, too.
            let common = of[(a, b)].powi(2);
            let left = (of[(a, a)] - common / of[(b, b)]).min(of[(b, b)] - common / of[(a, a)]);
            if !told(left) {
                pairs.push((a, b));
            }
        }
    }
    let numbered = |k: usize| unknowns.numbers[k];
    Some((
        pairs
            .into_iter()
            .map(|(a, b)| (numbered(a), numbered(b)))
            .collect(),
        unseen.into_iter().map(numbered).collect(),
    ))
}

/// Covariance of the unknowns beforehand, as its Cholesky factor.
fn colour(unknowns: &Unknowns) -> DMatrix<f64> {
    let count = unknowns.count();
    let mut covariance = DMatrix::zeros(count, count);
    for i in 0..count {
        for j in 0..count {
            if let (Some((a, with)), Some((b, and))) = (unknowns.shared[i], unknowns.shared[j])
                && a == b
            {
                covariance[(i, j)] = with * and;
            }
        }
        // A deviation that is shared in full leaves nothing of its own; a hair keeps the matrix regular.
        covariance[(i, i)] += unknowns.own[i].powi(2) + 1e-6 * covariance[(i, i)] + 1e-14;
    }
    match Cholesky::new(covariance) {
        Some(factors) => factors.l(),
        None => DMatrix::from_diagonal(&DVector::from_column_slice(&unknowns.own)),
    }
}
