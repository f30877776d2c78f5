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
use crate::response::{Transfer, times};

const ROUNDS: usize = 100;
/// A product this close to the sum needs no better zeros.
const GOOD: f64 = 1e-12;
/// The angle of a start's points, rad.
const ASIDE: f64 = 1.7;
/// A zero this near the real axis lies on it.
const PAIRED: f64 = 1e-11;
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
        (self.bettered(start, gain / lag), gain)
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

    /// All zeros from the better of two starts: what the coefficients say, and points spread evenly over the poles'
    /// decades, which do as well where the coefficients are too far off.
    fn bettered(&self, start: Vec<Complex64>, gain: f64) -> Vec<Complex64> {
        // The lag has no zero, and its pole is none of the sum's.
        let sum = Model {
            lag: None,
            ..self.clone()
        };
        let poles = sum.poles();
        let mut best = (sum.miss(&start, &poles, gain), start.clone());
        for from in [start.clone(), spread(start.len(), &poles)] {
            if best.0 < GOOD {
                break;
            }
            let found = in_pairs(sum.iterated(from, &poles));
            let miss = found.as_ref().map(|zeros| sum.miss(zeros, &poles, gain));
            if let (Some(miss), Some(found)) = (miss, found)
                && miss < best.0
            {
                best = (miss, found);
            }
        }
        best.1
    }

    /// The iteration from a start; it may end anywhere, also in what is no number.
    fn iterated(&self, mut zeros: Vec<Complex64>, poles: &[Complex64]) -> Vec<Complex64> {
        for _ in 0..ROUNDS {
            let mut moved = false;
            for at in 0..zeros.len() {
                let s = zeros[at];
                let (value, slope) = sum(self, s);
                if value == Complex64::ZERO {
                    continue;
                }
                let from_poles: Complex64 = poles.iter().map(|pole| (s - pole).inv()).sum();
                let others = zeros.iter().enumerate().filter(|(other, _)| *other != at);
                let from_zeros: Complex64 = others.map(|(_, zero)| (s - zero).inv()).sum();
                let step = (slope / value + from_poles - from_zeros).inv();
                // A value next to nothing has no quotient: the zero is there.
                if !step.is_finite() {
                    continue;
                }
                moved |= step.norm() > CLOSE * s.norm();
                zeros[at] = s - step;
            }
            if !moved {
                break;
            }
        }
        zeros
    }

    /// How far the product of these zeros is from the sum, at worst, on the imaginary axis by each pole and zero.
    fn miss(&self, zeros: &[Complex64], poles: &[Complex64], gain: f64) -> f64 {
        let corners = zeros.iter().chain(poles).map(|root| root.norm());
        let misses = corners.filter(|corner| *corner > 0.0).map(|corner| {
            let s = Complex64::new(0.0, corner);
            let miss = (gain * product(s, zeros, poles) / self.rational(s) - 1.0).norm();
            if miss.is_nan() { f64::INFINITY } else { miss }
        });
        misses.fold(0.0, f64::max)
    }
}

/// Π(s − zero)/Π(s − pole), factor by factor, so that nothing overflows on the way.
fn product(s: Complex64, zeros: &[Complex64], poles: &[Complex64]) -> Complex64 {
    let one = Complex64::from(1.0);
    let factor = |roots: &[Complex64], at: usize| roots.get(at).map_or(one, |root| s - root);
    let count = zeros.len().max(poles.len());
    (0..count)
        .map(|at| factor(zeros, at) / factor(poles, at))
        .product()
}

/// So many points near the imaginary axis, in pairs, their distances spread over those of the poles and beyond.
fn spread(count: usize, poles: &[Complex64]) -> Vec<Complex64> {
    let sizes = poles
        .iter()
        .map(|pole| pole.norm())
        .filter(|size| *size > 0.0);
    let (low, high) = sizes.fold((f64::INFINITY, 0.0f64), |(low, high), size| {
        (low.min(size), high.max(size))
    });
    let (low, high) = (low / 3.0, high * 3.0);
    let point = |at: usize| {
        let share = (at / 2) as f64 / (count / 2).max(1) as f64;
        let angle = if at.is_multiple_of(2) { ASIDE } else { -ASIDE };
        Complex64::from_polar(low * (high / low).powf(share), angle)
    };
    (0..count).map(point).collect()
}

/// The same with real ones real and each other one beside its conjugate; none where they do not pair.
fn in_pairs(zeros: Vec<Complex64>) -> Option<Vec<Complex64>> {
    if !zeros.iter().all(|zero| zero.is_finite()) {
        return None;
    }
    let is_real = |zero: &&Complex64| zero.im.abs() <= PAIRED * zero.norm();
    let real = zeros
        .iter()
        .filter(is_real)
        .map(|zero| Complex64::from(zero.re));
    let upper = zeros.iter().filter(|zero| !is_real(zero) && zero.im > 0.0);
    let mut all: Vec<Complex64> = real.collect();
    all.extend(upper.flat_map(|zero| [*zero, zero.conj()]));
    (all.len() == zeros.len()).then_some(all)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Rigid};

    /// The product of its roots is the model, wherever its modes lie.
    fn holds(model: &Model, most: f64) {
        let (zeros, gain) = model.zeros();
        let poles = model.poles();
        let at = |f: f64| gain * product(Complex64::new(0.0, TAU * f), &zeros, &poles);
        for k in 0..=60 {
            let f = 10f64.powf(f64::from(k) / 12.0);
            let wanted = model.rational(Complex64::new(0.0, TAU * f));
            let miss = (at(f) / wanted - 1.0).norm();
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

    /// Where the iteration comes upon a zero so nearly that its value has no quotient, it has arrived.
    #[test]
    fn a_zero_may_be_met_exactly() {
        let mode = |frequency, damping, residue, slope| Mode {
            frequency,
            damping,
            residue,
            slope,
        };
        let model = Model {
            rigid: Some(Rigid {
                friction: Some(2.0),
                ..Rigid::new(2, 1e4)
            }),
            modes: vec![
                mode(
                    77.81679613175197,
                    0.024926922657147205,
                    3950.828134266754,
                    0.0,
                ),
                mode(
                    1870.9779128319049,
                    0.008102366973617948,
                    8230903.447942275,
                    0.0,
                ),
                mode(
                    1962.9214304988907,
                    0.02460030593557799,
                    2566501.696570936,
                    6.0825987553124845,
                ),
                mode(
                    2422.5497939536535,
                    0.0021315735619389024,
                    4253561.099898929,
                    -22.51711433401993,
                ),
                mode(
                    293.2559728319382,
                    0.038498680317560124,
                    -181684.64717429626,
                    0.0,
                ),
                mode(
                    40.6941200520365,
                    0.010975430797645897,
                    932.284873542358,
                    -0.385717858803643,
                ),
                mode(
                    7411.75383928977,
                    0.033562288166954696,
                    -647670476.2255869,
                    0.0,
                ),
                mode(
                    26.438255092254195,
                    0.0010596928987162662,
                    1217.4301559891803,
                    0.0,
                ),
                mode(
                    2235.474581237573,
                    0.02393272777700226,
                    21887586.336422324,
                    -32.49493681324727,
                ),
                mode(
                    1890.4264765464102,
                    0.03391896491245483,
                    -30984763.438145828,
                    0.0,
                ),
                mode(
                    1218.9551107223556,
                    0.04882510516730862,
                    931074.8940937291,
                    -9.68042997760143,
                ),
                mode(
                    6853.306371325471,
                    0.002369143441727115,
                    -607659241.1946542,
                    40.26131914712023,
                ),
            ],
            lag: Some(700.0),
            delay: 0.0,
        };
        holds(&model, 1e-10);
    }

    proptest::proptest! {
        /// Up to twelve modes anywhere in three decades, with and against each other.
        #[test]
        fn zeros_of_any_plant(
            all in proptest::collection::vec((1.0f64..4.0, -3.0f64..-1.0, -2.0f64..0.0, -0.3f64..0.7, -0.5f64..0.5), 1..13),
            low_end in 0usize..5
        ) {
            let mut modes: Vec<Mode> = Vec::new();
            for (decade, damping, height, sign, slope) in all {
                let frequency = 10f64.powf(decade);
                let omega = TAU * frequency;
                modes.push(Mode {
                    frequency,
                    damping: 10f64.powf(damping),
                    residue: (omega * omega * 10f64.powf(height)).copysign(sign),
                    slope: if slope < 0.0 { 0.0 } else { 0.01 * omega * (slope - 0.25) },
                });
            }
            let rigid = [
                None,
                Some(Rigid::new(0, 0.3)),
                Some(Rigid::new(1, 30.0)),
                Some(Rigid::new(2, 1e4)),
                Some(Rigid { friction: Some(2.0), ..Rigid::new(2, 1e4) }),
            ][low_end];
            holds(&Model { rigid, modes, lag: Some(700.0), delay: 0.0 }, 1e-10);
        }
    }
}
