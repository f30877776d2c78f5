//! Whether a polynomial has all its roots in the left half plane.

/// What rounding makes of a difference that is exactly zero, relative to its terms.
const ROUNDING: f64 = 1e-12;

/// Whether no root of this polynomial, lowest power first, lies in the right half plane (Routh's array; Gantmacher, "The
/// Theory of Matrices", vol. 2, ch. XV, from memory; the tests hold it against the roots themselves). Roots that lie on the
/// imaginary axis to within rounding count as no instability: an integrator is none.
///
/// ```
/// use analysis::response::has_no_right_root;
/// assert!(has_no_right_root(&[1.0, 0.2, 1.0]));
/// assert!(!has_no_right_root(&[1.0, -0.2, 1.0]));
/// ```
pub fn has_no_right_root(coefficients: &[f64]) -> bool {
    if coefficients.iter().any(|c| !c.is_finite()) {
        return false;
    }
    // Roots at zero and at infinity are left out.
    let Some(first) = coefficients.iter().position(|c| *c != 0.0) else {
        return true;
    };
    let last = coefficients
        .iter()
        .rposition(|c| *c != 0.0)
        .unwrap_or(first);
    let own = &coefficients[first..=last];
    let sign = coefficients[last].signum();
    let highest_first = own.iter().rev().map(|c| sign * c);
    let mut space = [0.0; MOST];
    if own.len() > MOST {
        return routh(&mut highest_first.collect::<Vec<f64>>());
    }
    let row = &mut space[..own.len()];
    row.iter_mut()
        .zip(highest_first)
        .for_each(|(to, from)| *to = from);
    routh(row)
}

/// As many coefficients need no space of their own.
const MOST: usize = 24;

/// Routh's array in place, highest power first, of which the first is positive. Each round takes a power off: what stands at
/// odd places is the next row as it is, and what stands at even places becomes the one after it.
fn routh(mut row: &mut [f64]) -> bool {
    while row.len() > 1 {
        if row.iter().skip(1).step_by(2).all(|c| *c == 0.0) {
            // Roots in pairs about zero: the derivative's array tells whether they lie on the axis.
            let power = row.len() - 1;
            for at in (1..row.len()).step_by(2) {
                row[at] = row[at - 1] * (power - (at - 1)) as f64;
            }
        }
        let (lead, pivot) = (row[0], row[1]);
        if pivot <= 0.0 {
            return false;
        }
        let ratio = lead / pivot;
        for at in (2..row.len()).step_by(2) {
            let next = row.get(at + 1).copied().unwrap_or(0.0);
            let (own, taken) = (row[at], ratio * next);
            let difference = own - taken;
            let is_zero = difference.abs() <= ROUNDING * (own.abs() + taken.abs());
            row[at] = if is_zero { 0.0 } else { difference };
        }
        row = &mut row[1..];
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::response::{Transfer, times};
    use proptest::prelude::*;

    fn product(factors: &[Vec<f64>]) -> Vec<f64> {
        let one = vec![1.0];
        factors.iter().fold(one, |sum, factor| times(&sum, factor))
    }

    #[test]
    fn by_hand() {
        // s³ + s² + 2s + 8 has roots at −2 and 0.5 ± j1.94 (Ogata, "Modern Control Engineering", Routh's criterion, from memory).
        assert!(!has_no_right_root(&[8.0, 2.0, 1.0, 1.0]));
        // An integrator, an undamped pair, a constant, a first-order lag.
        assert!(has_no_right_root(&[0.0, 1.0, 1.0]));
        assert!(has_no_right_root(&[1.0, 0.0, 1.0]));
        assert!(has_no_right_root(&[3.0]));
        assert!(has_no_right_root(&[-1.0, -2.0]));
        assert!(!has_no_right_root(&[-1.0, 2.0]));
        assert!(!has_no_right_root(&[f64::NAN, 2.0]));
    }

    proptest! {
        /// Poles are drawn, from far apart to close; one of them may lie to the right.
        #[test]
        fn as_the_roots_say(
            pairs in proptest::collection::vec((-2.0..2.0f64, 1e-3..2.0f64), 0..4),
            lags in proptest::collection::vec(-2.0..2.0f64, 0..4),
            right in proptest::option::of((-2.0..2.0f64, 1e-3..1.0f64)),
        ) {
            let size = |lg: f64| 10f64.powf(lg);
            let pair = |(lg, damping): (f64, f64), sign: f64| {
                let own = size(lg);
                vec![own * own, sign * 2.0 * damping * own, 1.0]
            };
            let mut factors: Vec<Vec<f64>> = pairs.iter().map(|one| pair(*one, 1.0)).collect();
            factors.extend(lags.iter().map(|lg| vec![size(*lg), 1.0]));
            prop_assert!(has_no_right_root(&product(&factors)));
            if let Some(one) = right {
                factors.push(pair(one, -1.0));
                prop_assert!(!has_no_right_root(&product(&factors)));
                let den = product(&factors);
                let poles = Transfer { num: vec![1.0], den, omega: 1.0 }.poles();
                prop_assert!(poles.iter().any(|pole| pole.re > 0.0));
            }
        }
    }
}
