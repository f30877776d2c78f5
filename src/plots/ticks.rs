//! Where ticks stand and what they say.

use super::plot::Tick;
use crate::quantity::{Unit, rounded};

/// A number's text with the sign that typesetters use.
pub fn minus(text: String) -> String {
    text.replace('-', "−")
}

/// Ticks of a logarithmic axis (positions are log10) at 1 … 9 of each decade; labels at 1, 2 and 5
/// where there is room, otherwise at the decades.
pub fn log_ticks(low: f64, high: f64, unit: Unit) -> Vec<Tick> {
    let labelled: &[i32] = match high - low {
        span if span > 3.2 => &[1],
        span if span > 1.2 => &[1, 2, 5],
        _ => &[1, 2, 3, 5, 7],
    };
    let mut ticks = Vec::new();
    for decade in low.floor() as i32..=high.ceil() as i32 {
        for digit in 1..10 {
            let value = f64::from(digit) * 10f64.powi(decade);
            let at = value.log10();
            if at >= low - 1e-9 && at <= high + 1e-9 {
                let label = labelled.contains(&digit).then(|| rounded(value, unit, 3));
                ticks.push(Tick { at, label });
            }
        }
    }
    ticks
}

/// About `count` ticks at round values; `spacings` are the mantissas that count as round.
pub fn linear_ticks(
    low: f64,
    high: f64,
    count: usize,
    spacings: &[f64],
    label: impl Fn(f64) -> String,
) -> Vec<Tick> {
    let wanted = (high - low) / count as f64;
    if wanted <= 0.0 || !wanted.is_finite() {
        return Vec::new();
    }
    let decade = 10f64.powf(wanted.log10().floor());
    let choices = spacings
        .iter()
        .flat_map(|s| [s * decade, s * decade * 10.0]);
    let spacing = choices
        .filter(|s| *s >= wanted * 0.999)
        .fold(f64::INFINITY, f64::min);
    let spacing = if spacing.is_finite() { spacing } else { wanted };
    let (first, last) = (
        (low / spacing - 1e-9).ceil() as i64,
        (high / spacing + 1e-9).floor() as i64,
    );
    (first..=last)
        .map(|k| {
            let at = k as f64 * spacing;
            Tick {
                at,
                label: Some(label(at)),
            }
        })
        .collect()
}
