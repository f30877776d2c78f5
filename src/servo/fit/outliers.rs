//! Points that lie far off.

use super::data::Data;
use super::descent::Descent;

/// A point this many deviations off, with neighbours within half as many, is set aside. Among 5000 points of
/// plain noise one comes this far once in some million sweeps.
const FAR: f64 = 7.0;

/// Indices of points that lie far off the model, each alone.
///
/// The deviation is taken from the median, which far points do not move: for noise of deviation σ in both
/// parts, sizes have the median 1.1774·σ (Rayleigh's law).
pub(super) fn far_off(descent: &Descent, data: &Data) -> Vec<usize> {
    let sizes: Vec<f64> = descent
        .residual
        .chunks_exact(2)
        .map(|r| r[0].hypot(r[1]))
        .collect();
    let mut sorted: Vec<f64> = (0..sizes.len())
        .filter(|&i| data.weight[i] > 0.0)
        .map(|i| sizes[i])
        .collect();
    sorted.sort_by(f64::total_cmp);
    let Some(median) = sorted.get(sorted.len() / 2) else {
        return Vec::new();
    };
    let bound = FAR * (median / 1.1774).max(1e-9);
    let near = |i: Option<usize>| {
        i.and_then(|i| sizes.get(i))
            .is_none_or(|&x| x < bound / 2.0)
    };
    let alone = |i: &usize| sizes[*i] > bound && near(i.checked_sub(1)) && near(Some(i + 1));
    (0..sizes.len()).filter(alone).collect()
}
