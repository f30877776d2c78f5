//! Points that lie far off.

use super::data::Data;
use super::descent::Descent;
use super::terms;

/// A point this many deviations off, with neighbours within half as many, is set aside. Among 5000 points of
/// plain noise one comes this far once in some million sweeps.
const FAR: f64 = 7.0;

/// Indices of points that lie far off the model, each alone.
pub(super) fn far_off(descent: &Descent, data: &Data) -> Vec<usize> {
    let sizes: Vec<f64> = descent.residual.chunks_exact(2).map(size).collect();
    let bound = FAR * deviation(&sizes, data);
    let near = |i: Option<usize>| {
        i.and_then(|i| sizes.get(i))
            .is_none_or(|&x| x < bound / 2.0)
    };
    let alone = |i: &usize| sizes[*i] > bound && near(i.checked_sub(1)) && near(Some(i + 1));
    (0..sizes.len()).filter(alone).collect()
}

/// Those of the points set aside that fit a model after all; `weights` are what they weighed.
pub(super) fn fit_after_all(
    aside: &[usize],
    weights: &[f64],
    descent: &Descent,
    data: &Data,
) -> Vec<usize> {
    let sizes: Vec<f64> = descent.residual.chunks_exact(2).map(size).collect();
    let bound = FAR / 2.0 * deviation(&sizes, data);
    let whole = Data {
        weight: weights.to_vec(),
        ..data.clone()
    };
    let answer = terms::answer(
        &descent.model,
        &terms::common(&descent.model, &whole),
        &whole,
    );
    let fits = |i: &usize| (answer[*i] - whole.response[*i] * weights[*i]).norm() < bound;
    aside.iter().copied().filter(fits).collect()
}

fn size(pair: &[f64]) -> f64 {
    pair[0].hypot(pair[1])
}

/// The deviation of real and imaginary parts, from the median of the sizes, which far points do not move:
/// for noise of deviation σ in both parts, sizes have the median 1.1774·σ (Rayleigh's law).
fn deviation(sizes: &[f64], data: &Data) -> f64 {
    let used = sizes.iter().zip(&data.weight).filter(|(_, w)| **w > 0.0);
    let mut sorted: Vec<f64> = used.map(|(size, _)| *size).collect();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    (median / 1.1774).max(1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_does_not_see_a_far_point() {
        let data = Data {
            omega: vec![1.0, 2.0, 3.0],
            response: vec![Default::default(); 3],
            weight: vec![1.0; 3],
            trust: vec![1.0; 3],
        };
        assert!((deviation(&[1.1774, 1e6, 1.1774], &data) - 1.0).abs() < 1e-12);
    }
}
