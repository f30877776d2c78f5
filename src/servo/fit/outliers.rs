//! Points that lie far off.

use super::data::Data;
use super::descent::Descent;

/// A point this many deviations off, with neighbours within half as many, is set aside. Among 5000 points of
/// plain noise one comes this far once in some million sweeps.
const FAR: f64 = 7.0;
/// Most points that are set aside: one in so many.
const ONE_IN: usize = 20;

/// Indices of points that lie far off the model alone; none when there are too many to be mishaps.
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
    let unknowns = descent.unknowns();
    let Some(median) = sorted.get(sorted.len() / 2) else {
        return Vec::new();
    };
    let bound = FAR * (median / 1.1774).max(1e-9);
    let near = |i: Option<usize>| {
        i.and_then(|i| sizes.get(i))
            .is_none_or(|&x| x < bound / 2.0)
    };
    let alone = |i: &usize| sizes[*i] > bound && near(i.checked_sub(1)) && near(Some(i + 1));
    let far: Vec<usize> = (0..sizes.len()).filter(alone).collect();
    let most = sorted.len() / ONE_IN;
    let enough = 2 * (sorted.len() - far.len()) > unknowns + 2;
    if far.len() <= most && enough {
        far
    } else {
        Vec::new()
    }
}
