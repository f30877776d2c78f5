//! Starting values of the delay.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::data::Data;
use crate::numerics::put_in_order;

/// Steps of the delay that are looked at for each turn of the phase at the highest frequency.
const STEPS: f64 = 16.0;
/// Most turns at the highest frequency.
const MOST_TURNS: f64 = 100.0;

/// Up to `most` delays worth trying, the likeliest first, in the data's units.
///
/// Away from its resonances a lightly damped structure without delay answers along a fixed line of the
/// complex plane, in phase or against it. Twice the phase is then a constant minus twice ω·delay: the
/// delay is where the sum of the squared directions, turned back, is largest.
pub(super) fn candidates(data: &Data, most: usize) -> Vec<f64> {
    let (_, high) = data.range();
    let wrapped = |pair: &[Complex64]| (pair[1] * pair[0].conj()).arg().abs();
    let turns: f64 = data.response.windows(2).map(wrapped).sum::<f64>() / TAU;
    let count = ((turns.min(MOST_TURNS) + 1.0) * STEPS).ceil() as usize;
    let unit = TAU / (high * STEPS);
    let mut directions: Vec<Complex64> = (0..data.omega.len())
        .map(|i| squared_direction(data, i))
        .collect();
    let turn: Vec<Complex64> = data
        .omega
        .iter()
        .map(|omega| Complex64::cis(2.0 * omega * unit))
        .collect();
    let mut sums = Vec::with_capacity(count + 1);
    for _ in 0..=count {
        sums.push(directions.iter().sum::<Complex64>().norm());
        directions.iter_mut().zip(&turn).for_each(|(d, t)| *d *= t);
    }
    let at = |k: usize| sums.get(k).copied().unwrap_or(0.0);
    let mut tops: Vec<usize> = (0..=count)
        .filter(|&k| (k == 0 || at(k) >= at(k - 1)) && at(k) > at(k + 1))
        .collect();
    put_in_order(&mut tops, |&a, &b| at(b).total_cmp(&at(a)));
    tops.truncate(most);
    tops.into_iter().map(|k| k as f64 * unit).collect()
}

/// The direction of a response, squared, times the share of the axis that its point stands for; the axis
/// goes by the square root of the frequency, between what a delay needs and what sees all modes alike.
fn squared_direction(data: &Data, i: usize) -> Complex64 {
    let last = data.omega.len() - 1;
    let share = data.omega[(i + 1).min(last)].sqrt() - data.omega[i.saturating_sub(1)].sqrt();
    let p = data.response[i];
    let size = p.norm_sqr();
    if size > 0.0 && data.weight[i] > 0.0 {
        // A point that is mostly noise says little.
        let clear = (size * data.weight[i] * data.weight[i] / data.trust[i]).min(1.0);
        p * p / size * share * clear
    } else {
        Complex64::ZERO
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Model};

    #[test]
    fn a_delay_of_many_turns_is_seen() {
        let model = Model {
            modes: vec![Mode {
                frequency: 0.2,
                damping: 0.01,
                residue: 1.0,
                slope: 0.0,
            }],
            rigid: None,
            lag: None,
            delay: 3.0,
        };
        let omega: Vec<f64> = (0..200).map(|i| 0.1 * 1.025f64.powi(i)).collect();
        let response = omega.iter().map(|w| model.at(w / TAU)).collect();
        let data = Data {
            weight: vec![1.0; 200],
            trust: vec![1.0; 200],
            omega,
            response,
        };
        assert!((candidates(&data, 1)[0] - 3.0).abs() < 0.05);
    }
}
