//! Where a residual is no noise: the stretch of a sweep in which what the model leaves goes on from point to point.

use num_complex::Complex64;

use crate::plant::Point;
use crate::quantity::{Unit, rounded};
use crate::wording::hertz_closely as hertz;

/// Fewer points than this deviate alike by chance.
const FEWEST: usize = 3;

/// Neighbouring points whose residuals point the same way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stretch {
    /// Indices of its first and last point.
    first: usize,
    last: usize,
    /// Sum of the products of neighbours, Re(aₖ·āₖ₊₁): the autocovariance at a lag of one point, which noise does not have.
    covariance: f64,
}

impl Stretch {
    /// The one with the largest covariance.
    fn of(residuals: &[Complex64]) -> Option<Stretch> {
        let mut best: Option<Stretch> = None;
        let mut own: Option<Stretch> = None;
        for (k, pair) in residuals.windows(2).enumerate() {
            let product = (pair[0] * pair[1].conj()).re;
            own = (product > 0.0).then(|| match own {
                Some(before) => Stretch {
                    last: k + 1,
                    covariance: before.covariance + product,
                    ..before
                },
                None => Stretch {
                    first: k,
                    last: k + 1,
                    covariance: product,
                },
            });
            let is_better =
                |own: &Stretch| best.is_none_or(|best| own.covariance > best.covariance);
            if let Some(own) = own.filter(is_better) {
                best = Some(own);
            }
        }
        best.filter(|best| best.last + 1 - best.first >= FEWEST)
    }
}

/// Where the residuals of a sweep's points go on from point to point most, and how large they are there.
pub(super) fn told(points: &[Point], residuals: &[Complex64]) -> Option<String> {
    let stretch = Stretch::of(residuals)?;
    let (from, to) = (points.get(stretch.first)?, points.get(stretch.last)?);
    let inside = residuals.get(stretch.first..=stretch.last)?;
    let square: f64 = inside.iter().map(Complex64::norm_sqr).sum();
    let rms = (square / inside.len() as f64).sqrt();
    Some(format!(
        "most from {} to {}, by {} rms",
        hertz(from.frequency),
        hertz(to.frequency),
        rounded(rms, Unit::Percent, 2)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_mode_is_found_where_it_is() {
        // Noise of one sign after the other, and a resonance that nobody modelled.
        let at = |k: usize| 10.0 * 1.02f64.powf(k as f64);
        let missing = |f: f64| {
            let s = Complex64::new(0.0, f / 100.0);
            0.05 / (s * s + 0.05 * s + 1.0)
        };
        let noise = |k: usize| Complex64::new(if k.is_multiple_of(2) { 0.01 } else { -0.01 }, 0.0);
        let points: Vec<Point> = (0..300)
            .map(|k| Point::new(at(k), Complex64::ONE))
            .collect();
        let near = |f: f64| (50.0..200.0).contains(&f);
        let residuals: Vec<Complex64> = (0..300)
            .map(|k| {
                noise(k)
                    + if near(at(k)) {
                        missing(at(k))
                    } else {
                        Complex64::ZERO
                    }
            })
            .collect();
        let found = Stretch::of(&residuals).expect("a stretch");
        assert!(
            at(found.first) < 100.0 && 100.0 < at(found.last),
            "{found:?}"
        );
        let said = told(&points, &residuals).expect("words");
        assert!(said.starts_with("most from "), "{said}");
        let noise: Vec<Complex64> = (0..300).map(noise).collect();
        assert_eq!(told(&points, &noise), None);
    }
}
