//! Causes weighed against each other, and which parts a measurement cannot tell apart.

use nalgebra::{Cholesky, DMatrix};

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

/// Pairs of numbers whose deviations look alike in this measurement with all other parts anywhere within their laws,
/// and numbers that it does not see at all. By the information that the data hold on both, all others integrated out.
pub(super) fn alike(
    healthy: &Fit,
    unknowns: &Unknowns,
) -> Option<(Vec<(usize, usize)>, Vec<usize>)> {
    let (normal, colour) = healthy.information();
    let count = normal.nrows();
    let mut inverse = normal.clone();
    for k in 0..count {
        inverse[(k, k)] += 1.0;
    }
    // G = A − A (1 + A)⁻¹ A, of white unknowns; then of those as they are.
    let solved = Cholesky::new(inverse)?.solve(normal);
    let white = normal - normal * solved;
    let undo = colour.clone().try_inverse()?;
    let of: DMatrix<f64> = undo.transpose() * white * undo;
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
