//! How much a row counts.

use super::bounds::WEIGHTS;
use super::{Columns, WeightKind};

/// A coherence beyond this counts as this: errors that repeat are no longer small beside the noise, and rounding to
/// a few digits decides what is left of 1 − γ².
const HIGHEST: f64 = 0.9999;

/// Coherences that are 1 but for rounding.
const ROUNDED: f64 = 1.001;

/// What a coherence weighs: a frequency response's variance relative to its magnitude's square is
/// (1 − γ²)/(2·γ²·n) after n averages, so that the weight is in proportion to γ²/(1 − γ²). Bendat and Piersol,
/// "Random Data", 9.1 (from memory).
///
/// # Errors
/// A sentence where it is none, or 0.
pub(super) fn of_coherence(coherence: f64) -> Result<f64, &'static str> {
    if coherence == 0.0 {
        return Err("The coherence is 0: nothing of the output comes from the input.");
    }
    if !(0.0..=ROUNDED).contains(&coherence) {
        return Err("The coherence must lie above 0 and be 1 at most.");
    }
    let coherence = coherence.min(HIGHEST);
    Ok((coherence / (1.0 - coherence)).max(*WEIGHTS.start()))
}

/// A sentence on the column that tells the weights, if there is one.
pub(super) fn note(columns: &Columns) -> Option<String> {
    let weight = columns.weight?;
    let column = weight.column.saturating_add(1);
    Some(match weight.kind {
        WeightKind::Coherence => format!(
            "Column {column} is the coherence γ²: a row counts as γ²/(1 − γ²), and one above {HIGHEST} as {HIGHEST}."
        ),
        WeightKind::Weight => format!("Column {column} is how much each row counts."),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coherence_weighs_signal_over_noise() {
        assert_eq!(of_coherence(0.5), Ok(1.0));
        assert!((of_coherence(0.9).expect("a weight") - 9.0).abs() < 1e-12);
        assert_eq!(of_coherence(1.0), of_coherence(0.999_95));
        for wrong in [0.0, -0.1, 1.01, f64::NAN] {
            assert!(of_coherence(wrong).is_err(), "{wrong}");
        }
    }
}
