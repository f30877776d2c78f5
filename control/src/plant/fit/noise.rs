//! How noisy each point is.
//!
//! The variance of a point is taken for a sum of three: one that goes with the magnitude, the sensor's own, which does
//! not, and a slow one that falls with the square of the frequency. Deviations squared are exponential about such a
//! variance (complex normal noise), whose likelihood is raised by multiplicative steps (Févotte, Bertin and Durrieu,
//! Neural Computation 21, 2009, for the Itakura–Saito divergence; from memory). Weighting by the variance so found is
//! estimated generalised least squares (Pintelon and Schoukens, "System Identification: A Frequency Domain Approach",
//! ch. 9; from memory).

use num_complex::Complex64;

use super::data::Data;

/// The three variances.
const TERMS: usize = 3;
/// Steps towards the most likely variances.
const STEPS: u32 = 120;
/// Points that are looked at, at most.
const MOST: usize = 1500;
/// A deviation squared counts as this many variances at most: more is no noise, but an error of its own.
const CLIPPED: f64 = 5.0;
/// By how much the logarithm of the likelihood must rise against noise that goes with the magnitude alone: twice the
/// two unknowns more (Akaike asks for once). More is wanted before there is a model, when curvature may pass for noise.
const WANTED: f64 = 4.0;
const WANTED_BEFORE: f64 = 10.0;
/// So many points or fewer know little of variances: more is wanted of them.
const FEW: f64 = 150.0;
/// Where weights change by less than this factor nothing is begun anew.
const ALIKE: f64 = 1.4;

/// Variances of noise that goes with the magnitude, of constant noise, and of noise over ω².
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Noise([f64; TERMS]);

/// A deviation squared and what its variance is made of.
struct Sample {
    square: f64,
    terms: [f64; TERMS],
}

impl Noise {
    /// From the points alone: each against the cubic through its four neighbours, which follows what is no noise. `sizes`
    /// are the points' magnitudes. None where noise that goes with the magnitude explains as much.
    pub fn of_points(data: &Data, sizes: &[f64]) -> Option<Noise> {
        let off = |k: usize| {
            let near = [k - 2, k - 1, k + 1, k + 2];
            let weights = near.map(|own| {
                let others = near.iter().filter(|other| **other != own);
                let ratio = |other: &usize| {
                    (data.omega[k] - data.omega[*other]) / (data.omega[own] - data.omega[*other])
                };
                others.map(ratio).product::<f64>()
            });
            let pairs = near.iter().zip(&weights);
            let cubic: Complex64 = pairs.map(|(own, w)| data.response[*own] * *w).sum();
            let factor = 1.0 + weights.iter().map(|w| w * w).sum::<f64>();
            (data.response[k] - cubic).norm_sqr() / factor
        };
        let inner = 2..data.omega.len().saturating_sub(2);
        let samples = inner.map(|k| sample(data, sizes, k, off(k)));
        Noise::likeliest(samples.collect(), WANTED_BEFORE)
    }

    /// From what a model leaves.
    pub fn of_residual(data: &Data, sizes: &[f64], residual: &[f64]) -> Option<Noise> {
        let left = |(k, pair): (usize, &[f64])| {
            let weight = data.weight[k];
            (weight > 0.0).then(|| {
                // The residual is weighted.
                let square = (pair[0] * pair[0] + pair[1] * pair[1]) / (weight * weight);
                sample(data, sizes, k, square)
            })
        };
        let samples = residual.chunks_exact(2).enumerate().filter_map(left);
        let samples: Vec<Sample> = samples.collect();
        let wanted = WANTED * (1.0 + FEW / samples.len().max(1) as f64);
        Noise::likeliest(samples, wanted)
    }

    fn likeliest(mut samples: Vec<Sample>, wanted: f64) -> Option<Noise> {
        let stride = samples.len().div_ceil(MOST).max(1);
        let mut at = 0;
        samples.retain(|_| {
            at += 1;
            at % stride == 0
        });
        if samples.len() < 3 * TERMS {
            return None;
        }
        let alone = raised([1.0, 0.0, 0.0], &samples);
        let all = raised([1.0; TERMS], &samples);
        (likelihood(&all, &samples) > likelihood(&alone, &samples) + wanted).then_some(Noise(all))
    }

    /// The size that counts at each point: its magnitude where the noise goes with it, and more where there is other
    /// noise.
    pub fn sizes(&self, data: &Data, sizes: &[f64]) -> Vec<f64> {
        let variances: Vec<f64> = (0..data.omega.len())
            .map(|k| variance(&self.0, &terms(data.omega[k], sizes[k])))
            .collect();
        let over = variances
            .iter()
            .zip(sizes)
            .map(|(v, size)| v / (size * size));
        let least = over.filter(|x| x.is_finite()).fold(f64::INFINITY, f64::min);
        if !(least > 0.0 && least.is_finite()) {
            return sizes.to_vec();
        }
        variances.iter().map(|v| (v / least).sqrt()).collect()
    }
}

/// Whether other sizes would weigh points about as these do.
pub(super) fn alike(one: &[f64], other: &[f64]) -> bool {
    let ratios = one.iter().zip(other).map(|(a, b)| a / b);
    let (low, high) = ratios
        .filter(|ratio| ratio.is_finite() && *ratio > 0.0)
        .fold((f64::INFINITY, 0.0f64), |(low, high), r| {
            (low.min(r), high.max(r))
        });
    high <= low * ALIKE
}

fn sample(data: &Data, sizes: &[f64], k: usize, square: f64) -> Sample {
    Sample {
        square: square * data.trust[k],
        terms: terms(data.omega[k], sizes[k]),
    }
}

fn terms(omega: f64, size: f64) -> [f64; TERMS] {
    [size * size, 1.0, 1.0 / (omega * omega)]
}

fn variance(noise: &[f64; TERMS], terms: &[f64; TERMS]) -> f64 {
    noise.iter().zip(terms).map(|(a, b)| a * b).sum()
}

/// The most likely variances of those that are not 0.
fn raised(begin: [f64; TERMS], samples: &[Sample]) -> [f64; TERMS] {
    let mut noise = begin;
    // Each as if it were alone, so that all begin of a size.
    for (k, own) in noise.iter_mut().enumerate() {
        let alone = samples.iter().map(|s| s.square / s.terms[k]);
        let mut alone: Vec<f64> = alone.filter(|x| x.is_finite()).collect();
        alone.sort_by(f64::total_cmp);
        *own *= alone
            .get(alone.len() / 2)
            .copied()
            .unwrap_or(0.0)
            .max(f64::MIN_POSITIVE);
    }
    for _ in 0..STEPS {
        let (mut up, mut down) = ([0.0; TERMS], [0.0; TERMS]);
        for sample in samples {
            let variance = variance(&noise, &sample.terms);
            let square = sample.square.min(CLIPPED * variance);
            for k in 0..TERMS {
                up[k] += sample.terms[k] * square / (variance * variance);
                down[k] += sample.terms[k] / variance;
            }
        }
        for k in 0..TERMS {
            if noise[k] > 0.0 && down[k] > 0.0 {
                noise[k] *= (up[k] / down[k]).sqrt();
            }
        }
    }
    noise
}

fn likelihood(noise: &[f64; TERMS], samples: &[Sample]) -> f64 {
    let of = |sample: &Sample| {
        let variance = variance(noise, &sample.terms).max(f64::MIN_POSITIVE);
        -variance.ln() - (sample.square / variance).min(CLIPPED)
    };
    samples.iter().map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_sensor_s_own_noise_is_told_from_noise_that_goes_with_the_magnitude() {
        let count = 400;
        let omega: Vec<f64> = (0..count).map(|i| 0.1 * 1.012f64.powi(i)).collect();
        let sizes: Vec<f64> = omega.iter().map(|w| 1.0 / (w * w)).collect();
        // Any spread of angles and sizes will do for noise here.
        let drawn = |i: usize| {
            let u = (i as f64 * 0.618_034 + 0.1).fract();
            Complex64::from_polar((-u.ln()).sqrt(), TAU * (i as f64 * 0.754_878).fract())
        };
        let with = |relative: f64, floor: f64| {
            let at = |i: usize| sizes[i] + drawn(i) * (relative * sizes[i]).hypot(floor);
            let data = Data {
                response: (0..count as usize).map(at).collect(),
                weight: vec![1.0; count as usize],
                trust: vec![1.0; count as usize],
                omega: omega.clone(),
            };
            let residual: Vec<f64> = (0..count as usize)
                .flat_map(|i| {
                    let off = data.response[i] - sizes[i];
                    [off.re, off.im]
                })
                .collect();
            Noise::of_residual(&data, &sizes, &residual)
        };
        assert_eq!(with(0.01, 0.0), None);
        let Noise([relative, floor, _]) = with(0.01, 0.03).expect("a floor");
        assert!((relative.sqrt() / 0.01 - 1.0).abs() < 0.15, "{relative}");
        assert!((floor.sqrt() / 0.03 - 1.0).abs() < 0.15, "{floor}");
    }
}
