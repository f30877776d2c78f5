//! Third-order low-pass and high-pass round one op amp.

mod sallen_key_high_pass;
mod sallen_key_low_pass;

pub use sallen_key_high_pass::SallenKeyHighPass3;
pub use sallen_key_low_pass::SallenKeyLowPass3;

use crate::numerics::zero;

/// Where a smooth function changes its sign between 0 and `high`.
///
/// Looked for on a grid that is fine at both ends, then closed in on: a pair of zeros closer than the grid is
/// passed over, which leaves out solutions that hardly exist.
fn zeros_between(high: f64, f: impl Fn(f64) -> f64) -> Vec<f64> {
    const STEPS: i32 = 72;
    const STEP: f64 = 0.25;
    let shrink = (-STEP).exp();
    // What is left above a place over what is below it.
    let mut rest = (f64::from(STEPS / 2) * STEP).exp();
    let mut zeros = Vec::new();
    let mut x = high / (1.0 + rest);
    let mut y = f(x);
    for _ in 0..STEPS {
        rest *= shrink;
        let next = high / (1.0 + rest);
        let value = f(next);
        if y * value < 0.0 {
            zeros.extend(zero(&f, x, next));
        }
        (x, y) = (next, value);
    }
    zeros
}

/// Ratios of two capacitors that are tried to see whether `span` between them is enough.
fn ratios(span: f64) -> impl Iterator<Item = f64> {
    const STEPS: i32 = 12;
    (0..=STEPS).map(move |step| span.powf(f64::from(step) * 2.0 / f64::from(STEPS) - 1.0))
}

/// The least span of capacitors, to a factor of 1.5, for which `works` finds resistors; none below a
/// million.
fn span_needed(from: f64, works: impl Fn(f64) -> bool) -> Option<f64> {
    let spans = (0..40).map(|step| from.max(1.5) * 1.5f64.powi(step));
    spans
        .take_while(|span| *span < 1e6)
        .find(|span| works(*span))
}

/// The sentence for capacitors that are too close together.
fn capacitors_too_close(q: f64, span: f64, needed: Option<f64>) -> String {
    use super::guidance::number;
    let apart = match needed {
        Some(needed) => format!("some {} apart", number(needed)),
        None => "further apart than can be bought".to_owned(),
    };
    format!(
        "With a Q of {} and this single pole the circuit needs capacitors {apart}, and the shelf's are at most {} apart. \
         A lower Q, a single pole elsewhere or a wider range of capacitors would make it possible; so would a second-order \
         and a first-order stage in its place.",
        number(q),
        number(span),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zeros_of_a_cubic() {
        let found = zeros_between(10.0, |x| (x - 0.01) * (x - 1.0) * (x - 9.5));
        assert_eq!(found.len(), 3);
        for (found, known) in found.iter().zip([0.01, 1.0, 9.5]) {
            assert!((found / known - 1.0).abs() < 1e-13);
        }
    }
}
