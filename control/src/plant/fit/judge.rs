//! The model selection criterion: whether a term of a model is significant.

use super::columns::Triangle;
use super::data::Data;
use super::descent::Descent;
use super::terms::{self, Curved, Linear};

/// Relative residuals below this are rounding and no reason for anything.
const FLOOR: f64 = 1e-8;
/// Neighbouring residuals that move together count as this many times fewer points, at most.
const MOST_ALIKE: f64 = 4.0;

/// From this on what [`alike`] says means that a residual is no noise.
pub(super) const ALIKE: f64 = 1.8;

/// By how many noise variances the cost must fall for `extra` more unknowns.
///
/// Far above what the F-test asks for at 1 % (Bates and Watts, "Nonlinear Regression Analysis", 3.10; from
/// memory), because a new mode is the best one of all places in the sweep and not one that was asked about
/// beforehand.
fn wanted(extra: usize) -> f64 {
    20.0 + 7.0 * extra as f64
}

/// Variance of a row's residual: the cost over the degrees of freedom.
pub(super) fn noise(cost: f64, unknowns: usize, data: &Data) -> f64 {
    let free = (2 * data.count()).saturating_sub(unknowns).max(1);
    (cost / free as f64).max(FLOOR * FLOOR)
}

/// Bayesian information criterion, smaller is better (Schwarz, Annals of Statistics 6, 1978).
pub(super) fn score(descent: &Descent, data: &Data) -> f64 {
    let rows = 2.0 * data.count() as f64;
    let unknowns = descent.unknowns() as f64;
    rows * (descent.cost / rows + FLOOR * FLOOR).ln() + unknowns * rows.ln()
}

/// A larger model takes a smaller one's place when its score is this much better: "strong" evidence (Kass and
/// Raftery, J. American Statistical Association 90, 1995; from memory).
pub(super) const STRONG: f64 = 6.0;

/// And one this far behind is excluded: "very strong" evidence (as above).
pub(super) const EXCLUDED: f64 = 10.0;

/// What models of one sweep are compared by: the noise of the best of them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Criterion {
    /// Variance of a row, more where neighbouring residuals move together.
    noise: f64,
    /// Rows that say something of their own.
    rows: f64,
}

impl Criterion {
    /// From the model that leaves least.
    pub fn of(models: &[Descent], data: &Data) -> Criterion {
        let own = |descent: &Descent| noise(descent.cost, descent.unknowns(), data);
        let best = models.iter().min_by(|a, b| own(a).total_cmp(&own(b)));
        let alike = best.map_or(1.0, |best| alike(&best.residual));
        Criterion {
            noise: best.map_or(1.0, own) * alike,
            rows: (2.0 * data.count() as f64 / alike).max(2.0),
        }
    }

    /// The Bayesian information criterion with this noise, less what is the same for all models; smaller is better.
    pub fn score(&self, descent: &Descent) -> f64 {
        descent.cost / self.noise + descent.unknowns() as f64 * self.rows.ln()
    }

    /// The one with the best score; a smaller one that is not far behind goes before it.
    pub fn choice<'a>(&self, models: impl Iterator<Item = &'a Descent>) -> Option<&'a Descent> {
        let scored: Vec<(f64, &Descent)> = models.map(|d| (self.score(d), d)).collect();
        let best = scored.iter().map(|s| s.0).fold(f64::INFINITY, f64::min);
        let near = scored.iter().filter(|s| s.0 <= best + STRONG);
        let order = |s: &&(f64, &Descent)| (s.1.unknowns(), s.0);
        near.min_by(|a, b| {
            let (a, b) = (order(a), order(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
        .map(|s| s.1)
    }
}

/// Whether a model should take the place of a smaller one, or a smaller one that of a larger one.
pub(super) fn better(new: &Descent, old: &Descent, data: &Data) -> bool {
    let (fresh, before) = (new.unknowns(), old.unknowns());
    if fresh > before {
        worth(new, old, data)
    } else if fresh < before {
        !worth(old, new, data)
    } else {
        new.cost < old.cost
    }
}

/// Whether a larger model's cost is enough below the smaller one's, even without the point that gains most:
/// a single bad point is no mode.
fn worth(large: &Descent, small: &Descent, data: &Data) -> bool {
    let unknowns = large.unknowns();
    if 2 * data.count() <= unknowns + 1 {
        return false;
    }
    let noise = noise(large.cost, unknowns, data) * alike(&large.residual);
    let gains = small
        .residual
        .chunks_exact(2)
        .zip(large.residual.chunks_exact(2))
        .map(|(s, l)| s[0] * s[0] + s[1] * s[1] - l[0] * l[0] - l[1] * l[1]);
    let most = gains.fold(0.0, f64::max);
    let fall = small.cost - large.cost;
    let wanted = wanted(unknowns.saturating_sub(small.unknowns()));
    fall > wanted * noise && fall - most > 0.4 * wanted * noise
}

/// How many neighbouring residuals say the same, from their correlation: (1 + ρ)/(1 − ρ), at least 1
/// (Bartlett, J. Royal Statistical Society 98, 1935). Noise gives 1, a structure that the model lacks more.
pub(super) fn alike(residual: &[f64]) -> f64 {
    let all: f64 = residual.iter().map(|x| x * x).sum();
    let pairs: f64 = residual
        .iter()
        .zip(residual.iter().skip(2))
        .map(|(a, b)| a * b)
        .sum();
    let correlation = if all > 0.0 {
        (pairs / all).clamp(0.0, 0.9)
    } else {
        0.0
    };
    ((1.0 + correlation) / (1.0 - correlation)).min(MOST_ALIKE)
}

/// By about how much the cost would rise without each mode, in noise variances, when all else is fitted anew.
pub(super) fn weights_of_modes(descent: &Descent, data: &Data) -> Vec<f64> {
    let mut columns = descent.columns(data);
    let count = columns.count();
    let r = columns.orthogonalise(0);
    let inverse = inverse(&r, count);
    let covariance = |i: usize, j: usize| -> f64 {
        (i.max(j)..count)
            .map(|k| inverse[k][i] * inverse[k][j])
            .sum()
    };
    let linear = terms::linear(&descent.model, &descent.free);
    let curved = terms::curved(&descent.model, &descent.free);
    let noise = noise(descent.cost, descent.unknowns(), data);
    let weight = |mode: usize| {
        let of_linear = linear
            .iter()
            .enumerate()
            .filter_map(|(j, term)| match *term {
                Linear::Residue(k) if k == mode => Some((j, descent.model.modes[k].residue)),
                Linear::Slope(k) if k == mode => Some((j, descent.model.modes[k].slope)),
                _ => None,
            });
        let of_curved = curved
            .iter()
            .enumerate()
            .filter_map(|(j, term)| match *term {
                Curved::Frequency(k) | Curved::Damping(k) if k == mode => {
                    Some((linear.len() + j, 0.0))
                }
                _ => None,
            });
        let own: Vec<(usize, f64)> = of_linear.chain(of_curved).collect();
        let block =
            nalgebra::DMatrix::from_fn(own.len(), own.len(), |i, j| covariance(own[i].0, own[j].0));
        let change = nalgebra::DVector::from_iterator(own.len(), own.iter().map(|o| o.1));
        // The block's inverse is what the mode's unknowns weigh once all others have made up for it.
        match block.cholesky() {
            Some(block) => change.dot(&block.solve(&change)) / noise,
            None => 0.0,
        }
    };
    (0..descent.model.modes.len()).map(weight).collect()
}

/// The standard deviation of each mode's residue over its size; 0 where it is held.
pub(super) fn doubt_of_residues(descent: &Descent, data: &Data) -> Vec<f64> {
    let mut columns = descent.columns(data);
    let count = columns.count();
    let variances = columns.orthogonalise(0).variances(count);
    let noise = noise(descent.cost, count, data);
    let mut doubts = vec![0.0; descent.model.modes.len()];
    let linear = terms::linear(&descent.model, &descent.free);
    for (term, variance) in linear.iter().zip(variances) {
        if let Linear::Residue(k) = *term {
            doubts[k] = (variance * noise).sqrt() / descent.model.modes[k].residue.abs();
        }
    }
    doubts
}

/// Terms of a model that may not be significant.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Doubts {
    pub lag: bool,
    pub delay: bool,
    /// Modes whose slopes are free and doubtful.
    pub slopes: Vec<usize>,
}

/// Parameters within this many standard deviations of zero are not significant.
const SURE: f64 = 12.0;

/// The free parameters that are not significant, by their standard deviations.
pub(super) fn doubts(descent: &Descent, data: &Data) -> Doubts {
    let mut columns = descent.columns(data);
    let count = columns.count();
    let variances = columns.orthogonalise(0).variances(count);
    let noise = noise(descent.cost, count, data);
    let linear = terms::linear(&descent.model, &descent.free);
    let curved = terms::curved(&descent.model, &descent.free);
    let mut model = descent.model.clone();
    let mut doubts = Doubts::default();
    for (j, term) in linear.iter().enumerate() {
        let value = term.of(&mut model).map_or(0.0, |x| x.abs());
        if value < SURE * (variances[j] * noise).sqrt()
            && let Linear::Slope(k) = *term
        {
            doubts.slopes.push(k);
        }
    }
    for (j, term) in curved.iter().enumerate() {
        let deviation = (variances[linear.len() + j] * noise).sqrt();
        match term {
            // A corner far away is known by its inverse: its logarithm's deviation is relative.
            Curved::Lag => doubts.lag = deviation * SURE > 1.0,
            Curved::Delay => doubts.delay = model.delay < SURE * deviation,
            _ => (),
        }
    }
    doubts
}

/// Columns of R⁻¹.
fn inverse(r: &Triangle, size: usize) -> Vec<Vec<f64>> {
    let column = |k: usize| {
        let mut unit = vec![0.0; k + 1];
        unit[k] = 1.0;
        r.solve(&unit)
    };
    (0..size).map(column).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_that_stray_alike_count_less() {
        let even: Vec<f64> = (0..200)
            .map(|i| if i / 2 % 2 == 0 { 1.0 } else { -1.0 })
            .collect();
        assert_eq!(alike(&even), 1.0);
        let slow: Vec<f64> = (0..200).map(|i| (0.05 * f64::from(i)).sin()).collect();
        assert_eq!(alike(&slow), MOST_ALIKE);
        assert_eq!(alike(&[0.0; 8]), 1.0);
    }
}
