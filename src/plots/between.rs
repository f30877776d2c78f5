//! Curves read between their points.

/// A curve's value between its points, straight between neighbours; NaN where there is none.
pub fn between(xs: &[f64], ys: &[f64], x: f64) -> f64 {
    let at = xs.partition_point(|v| *v < x).clamp(1, xs.len().max(2) - 1);
    match (xs.get(at - 1), xs.get(at), ys.get(at - 1), ys.get(at)) {
        (Some(a), Some(b), Some(low), Some(high)) => {
            low + (high - low) * ((x - a) / (b - a)).clamp(0.0, 1.0)
        }
        _ => f64::NAN,
    }
}
