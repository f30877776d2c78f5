//! All zeros of a plant's model.
//!
//! The numerator of a sum over modes is multiplied out for a start only: of many modes over many decades its
//! coefficients do not hold the zeros in double precision. Then all zeros are bettered together on the sum itself,
//! by the iteration of Ehrlich and Aberth (O. Aberth, "Iteration methods for finding all zeros of a polynomial
//! simultaneously", Math. Comp. 27, 1973; from memory): `N'/N = P'/P + Σ 1/(s − pole)` needs no coefficient.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::Model;
use super::peaks::sum;
use crate::response::Transfer;

const ROUNDS: usize = 40;
/// A step this small against the zero is rounding.
const CLOSE: f64 = 1e-15;

impl Model {
    /// Zeros in rad/s, without the delay's, and the factor `c` of `P(s) = c·Π(s − zero)/Π(s − pole)`. Those that are
    /// not real stand beside their exact conjugates.
    pub fn zeros(&self) -> (Vec<Complex64>, f64) {
        let product = self.multiplied_out();
        let start = product.zeros();
        let lead = product.num.get(start.len()).copied().unwrap_or(0.0);
        let last = product.den.last().copied().unwrap_or(1.0);
        let lag = self.lag.map_or(1.0, |corner| TAU * corner);
        let power = product.den.len() as i32 - 1 - start.len() as i32;
        let gain = lag * lead / last * product.omega.powi(power);
        (self.bettered(start), gain)
    }

    /// The sum of rigid part and modes as one rational function.
    fn multiplied_out(&self) -> Transfer {
        let rigid = self.rigid.map(|rigid| rigid.transfer());
        let modes = self.modes.iter().map(|mode| mode.transfer());
        let shares: Vec<Transfer> = rigid.into_iter().chain(modes).collect();
        let logs = self.modes.iter().map(|mode| (TAU * mode.frequency).ln());
        let omega = match self.modes.len() {
            0 => shares.first().map_or(1.0, |rigid| rigid.omega),
            count => (logs.sum::<f64>() / count as f64).exp(),
        };
        let none = Transfer::zero(omega);
        shares.iter().fold(none, |whole, share| {
            let (num, den) = (
                scaled(&share.num, share.omega, omega),
                scaled(&share.den, share.omega, omega),
            );
            Transfer {
                num: plus(&times(&whole.num, &den), &times(&num, &whole.den)),
                den: times(&whole.den, &den),
                omega,
            }
        })
    }

    /// The zeros from a start nearby; the start where that does not lead to a better answer.
    fn bettered(&self, start: Vec<Complex64>) -> Vec<Complex64> {
        // The lag has no zero, and its pole is none of the sum's.
        let poles = Model {
            lag: None,
            ..self.clone()
        }
        .poles();
        let mut zeros = start.clone();
        for _ in 0..ROUNDS {
            let mut moved = false;
            for at in 0..zeros.len() {
                let s = zeros[at];
                if s.im < 0.0 || s == Complex64::ZERO {
                    continue;
                }
                let (value, slope) = sum(self, s);
                if value == Complex64::ZERO {
                    continue;
                }
                let from_poles: Complex64 = poles.iter().map(|pole| (s - pole).inv()).sum();
                let others = zeros.iter().enumerate().filter(|(other, _)| *other != at);
                let from_zeros: Complex64 = others.map(|(_, zero)| (s - zero).inv()).sum();
                let step = (slope / value + from_poles - from_zeros).inv();
                let step = if s.im == 0.0 {
                    Complex64::from(step.re)
                } else {
                    step
                };
                let next = s - step;
                if !next.is_finite() || (s.im > 0.0 && next.im <= 0.0) {
                    return start;
                }
                moved |= step.norm() > CLOSE * s.norm();
                // A pair moves together.
                if let Some(twin) = zeros
                    .iter()
                    .position(|zero| s.im > 0.0 && *zero == s.conj())
                {
                    zeros[twin] = next.conj();
                }
                zeros[at] = next;
            }
            if !moved {
                break;
            }
        }
        zeros
    }
}

/// Coefficients over another scale of s.
fn scaled(c: &[f64], from: f64, to: f64) -> Vec<f64> {
    let ratio = to / from;
    c.iter()
        .enumerate()
        .map(|(k, c)| c * ratio.powi(k as i32))
        .collect()
}

fn plus(a: &[f64], b: &[f64]) -> Vec<f64> {
    let at = |c: &[f64], k: usize| c.get(k).copied().unwrap_or(0.0);
    (0..a.len().max(b.len()))
        .map(|k| at(a, k) + at(b, k))
        .collect()
}

fn times(a: &[f64], b: &[f64]) -> Vec<f64> {
    if a.is_empty() || b.is_empty() {
        return Vec::new();
    }
    let mut product = vec![0.0; a.len() + b.len() - 1];
    for (i, a) in a.iter().enumerate() {
        for (k, b) in b.iter().enumerate() {
            product[i + k] += a * b;
        }
    }
    product
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Rigid};

    /// The product of its roots is the model, wherever its modes lie.
    fn holds(model: &Model, most: f64) {
        let (zeros, gain) = model.zeros();
        let poles = model.poles();
        let product = |f: f64| {
            let s = Complex64::new(0.0, TAU * f);
            // Factor by factor, so that nothing overflows on the way.
            let above = zeros.iter().map(|zero| s - zero);
            let mut above = above.chain(std::iter::repeat(Complex64::from(1.0)));
            let factors = poles
                .iter()
                .map(|pole| above.next().unwrap_or_default() / (s - pole));
            gain * factors.product::<Complex64>()
        };
        for k in 0..=60 {
            let f = 10f64.powf(f64::from(k) / 12.0);
            let wanted = model.rational(Complex64::new(0.0, TAU * f));
            let miss = (product(f) / wanted - 1.0).norm();
            assert!(miss < most, "{f} Hz: {miss:e} of {model:?}");
        }
    }

    fn mode(frequency: f64, residue: f64, slope: f64) -> Mode {
        Mode {
            frequency,
            damping: 0.01,
            residue,
            slope,
        }
    }

    #[test]
    fn the_zeros_make_the_plant_again() {
        let modes = |count: usize| -> Vec<Mode> {
            let one = |k: usize| mode(30.0 * 1.6f64.powi(k as i32), 1e3 * (1 + k % 3) as f64, 0.0);
            (0..count).map(one).collect()
        };
        let rigids = [
            None,
            Some(Rigid::new(0, 0.1)),
            Some(Rigid::new(1, 3.0)),
            Some(Rigid::new(2, 2e3)),
            Some(Rigid {
                friction: Some(2.0),
                ..Rigid::new(2, 2e3)
            }),
        ];
        for rigid in rigids {
            for (count, most) in [(1, 1e-12), (2, 1e-12), (4, 1e-11), (12, 1e-9)] {
                for lag in [None, Some(3e3)] {
                    let mut model = Model {
                        rigid,
                        modes: modes(count),
                        lag,
                        delay: 1e-4,
                    };
                    holds(&model, most);
                    model.modes[0].slope = 4.0;
                    holds(&model, most);
                    model.modes[count - 1].residue *= -1.0;
                    holds(&model, most);
                }
            }
        }
    }

    #[test]
    fn a_plant_without_modes_has_no_zero() {
        let model = Model {
            rigid: Some(Rigid::new(2, 7.0)),
            lag: Some(100.0),
            ..Model::default()
        };
        let (zeros, gain) = model.zeros();
        assert!(zeros.is_empty());
        assert!((gain / (7.0 * TAU * 100.0) - 1.0).abs() < 1e-14);
    }
}
#[cfg(test)]
mod tmp {
    use super::*;
    use crate::plant::{Mode, Rigid};
    #[test]
    fn experiment() {
        let mut seed = 12345u64;
        let mut u = || { seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407); (seed >> 11) as f64 / (1u64 << 53) as f64 };
        let mut stats = vec![];
        for n in 0..2000 {
            let count = 1 + (12.0 * u()) as usize;
            let mut modes: Vec<Mode> = (0..count).map(|_| { let f = 10f64.powf(1.0 + 3.0 * u()); let w = TAU * f; let sgn = if u() < 0.3 { -1.0 } else { 1.0 };
                Mode { frequency: f, damping: 10f64.powf(-3.0 + 2.0 * u()), residue: sgn * w * w * 10f64.powf(-2.0 + 2.0 * u()), slope: if u() < 0.5 { 0.0 } else { w * 0.01 * (u() - 0.5) } } }).collect();
            modes.sort_by(|a, b| a.frequency.total_cmp(&b.frequency));
            let rigid = match n % 5 { 0 => None, 1 => Some(Rigid::new(0, 0.3)), 2 => Some(Rigid::new(1, 30.0)), 3 => Some(Rigid::new(2, 1e4)), _ => Some(Rigid { friction: Some(2.0), ..Rigid::new(2, 1e4) }) };
            let model = Model { rigid, modes, lag: None, delay: 0.0 };
            let start = model.multiplied_out().zeros();
            let (zeros, gain) = model.zeros();
            let poles = model.poles();
            let miss = |zeros: &[Complex64]| { let mut worst = 0.0f64; for k in 0..=40 { let f = 10f64.powf(f64::from(k) / 8.0);
                let s = Complex64::new(0.0, TAU * f);
                let above = zeros.iter().map(|zero| s - zero);
                let mut above = above.chain(std::iter::repeat(Complex64::from(1.0)));
                let p: Complex64 = poles.iter().map(|pole| above.next().unwrap() / (s - pole)).product();
                worst = worst.max((gain * p / model.rational(s) - 1.0).norm()); } worst };
            stats.push((miss(&start), miss(&zeros), count, n, start == zeros));
        }
        for (name, k) in [("start", 0), ("bettered", 1)] {
            let mut v: Vec<f64> = stats.iter().map(|s| if k == 0 { s.0 } else { s.1 }).collect();
            v.sort_by(f64::total_cmp);
            println!("{name}: median {:e} 90% {:e} 99% {:e} worst {:e}", v[1000], v[1800], v[1980], v[1999]);
        }
        println!("fell back {}", stats.iter().filter(|s| s.4).count());
        stats.sort_by(|a, b| b.1.total_cmp(&a.1));
        for s in &stats[..8] { println!("{s:?}"); }
        println!("worse {}", stats.iter().filter(|s| s.1 > 10.0 * s.0.max(1e-12)).count());
    }
}
