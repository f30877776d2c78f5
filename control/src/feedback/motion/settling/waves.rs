//! A sum of fading waves, and when it is small for good.

use std::cell::Cell;

use num_complex::Complex64;

use crate::numerics::{modulus, zero};

/// `Re(share·e^(pole·t))`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wave {
    pub share: Complex64,
    /// rad/s, in the left half plane.
    pub pole: Complex64,
}

/// What a wave has at least, relative to the band, to be followed closely: a ripple of a few per cent of the band may
/// bring a slow hump out of it.
const HEARD: f64 = 0.001;
/// Step times the magnitude of the fastest followed pole, radians.
const TURN: f64 = 0.8;
/// Most samples.
const LOOKS: usize = 20_000;

impl Wave {
    /// Its bound at a time in s.
    pub fn size(&self, time: f64) -> f64 {
        modulus(self.share) * (self.pole.re * time).exp()
    }

    /// Laplace's transform of the wave at a real rate, rad/s.
    pub fn transform(&self, rate: f64) -> f64 {
        (self.share / (rate - self.pole)).re
    }

    fn at(&self, time: f64) -> Complex64 {
        self.share * (self.pole * time).exp()
    }
}

/// When the sum is as far from 0 as `band` for the last time, s: 0 where it never is, none where it does not fade or
/// that takes too long to find.
///
/// The bounds of all waves together say from when on it is within; from there it is followed backwards.
///
/// The waves of all looks are added to `spent`.
pub(super) fn settles(waves: &[Wave], band: f64, spent: &Cell<usize>) -> Option<f64> {
    let mut to = bounded(waves, band)?;
    let mut phases: Vec<Complex64> = waves.iter().map(|wave| wave.at(to)).collect();
    let mut look = Look::of(waves, &phases);
    let mut step = TURN / quickest(waves, &phases, band);
    let mut turns = backwards(waves, step);
    for _ in 0..LOOKS {
        spent.set(spent.get() + waves.len());
        if to <= 0.0 {
            return Some(0.0);
        }
        let before: Vec<Complex64> = phases.iter().zip(&turns).map(|(z, m)| z * m).collect();
        let quick = quickest(waves, &before, band);
        if quick * step > 1.25 * TURN {
            step = (TURN / quick).max(0.1 * step);
            turns = backwards(waves, step);
            continue;
        }
        let from = to - step;
        let next = Look::of(waves, &before);
        if let Some(last) = outside(waves, band, (from, next), (to, look)) {
            return Some(last.max(0.0));
        }
        (phases, look, to) = (before, next, from);
    }
    None
}

/// The size of the quickest pole whose wave is heard, and of the slowest at least, rad/s.
fn quickest(waves: &[Wave], phases: &[Complex64], band: f64) -> f64 {
    let slowest = waves.iter().map(|wave| modulus(wave.pole));
    let slowest = slowest.fold(f64::INFINITY, f64::min);
    // Going back, what fades quickly may have grown beyond all numbers.
    let is_still = |z: &Complex64| z.re.abs() + z.im.abs() <= HEARD * band;
    let loud = waves.iter().zip(phases).filter(|(_, z)| !is_still(z));
    loud.fold(slowest, |most, (wave, _)| most.max(modulus(wave.pole)))
}

/// The sum and its slope at one time.
#[derive(Clone, Copy)]
struct Look {
    value: f64,
    slope: f64,
}

impl Look {
    fn of(waves: &[Wave], phases: &[Complex64]) -> Look {
        let start = Look {
            value: 0.0,
            slope: 0.0,
        };
        waves.iter().zip(phases).fold(start, |sum, (wave, z)| Look {
            value: sum.value + z.re,
            slope: sum.slope + (wave.pole * z).re,
        })
    }
}

fn sum(waves: &[Wave], time: f64) -> f64 {
    waves.iter().map(|wave| wave.at(time).re).sum()
}

/// What a step backwards makes of each wave.
fn backwards(waves: &[Wave], step: f64) -> Vec<Complex64> {
    waves.iter().map(|wave| (-wave.pole * step).exp()).collect()
}

/// The last time between two samples at which the sum leaves the band, which it has not at the later one.
fn outside(
    waves: &[Wave],
    band: f64,
    (from, before): (f64, Look),
    (to, after): (f64, Look),
) -> Option<f64> {
    let crossed =
        |from: f64, side: f64| zero(|t| sum(waves, t) - side * band, from, to).or(Some(from));
    if before.value.abs() > band {
        return crossed(from, before.value.signum());
    }
    // A hump between: where the cubic through values and slopes turns.
    let side = before.value.signum();
    if before.slope * side <= 0.0 || after.slope * side >= 0.0 {
        return None;
    }
    let top = from + (to - from) * turning(before, after, to - from)?;
    let height = sum(waves, top) * side;
    (height > band).then(|| crossed(top, side))?
}

/// Where from 0 to 1 the cubic through both ends has its turn.
fn turning(a: Look, b: Look, step: f64) -> Option<f64> {
    let (m, n, rise) = (a.slope * step, b.slope * step, b.value - a.value);
    // The slope is m + 2·p·x + 3·q·x².
    let (p, q) = (3.0 * rise - 2.0 * m - n, m + n - 2.0 * rise);
    let root = (p * p - 3.0 * q * m).max(0.0).sqrt();
    let large = -(p + root.copysign(p));
    [large / (3.0 * q), m / large]
        .into_iter()
        .find(|x| (0.0..=1.0).contains(x))
}

/// A time from which on the bounds of all waves together are within the band, hardly later than need be; none
/// where they do not fade.
fn bounded(waves: &[Wave], band: f64) -> Option<f64> {
    if !waves.iter().all(|w| w.pole.re < 0.0 && w.share.is_finite()) {
        return None;
    }
    // The logarithm of the bound falls and is convex: Newton's steps come from the left and do not overshoot.
    let mut time = 0.0;
    for _ in 0..100 {
        let start = (0.0, 0.0);
        let (bound, slope) = waves.iter().fold(start, |(bound, slope), wave| {
            let own = wave.size(time);
            (bound + own, slope + own * wave.pole.re)
        });
        if bound <= band {
            return Some(time);
        }
        // Slightly more than the Newton step, so that the iteration terminates.
        let step = (bound / band).ln() * bound / -slope;
        time += step * 1.001 + 1e-3 * time;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ringing_wave_settles_at_its_last_hump() {
        // e^(−t)·cos 10·t in a band of 2 %: dense samples say when.
        let wave = |share: f64, re: f64, im: f64| Wave {
            share: share.into(),
            pole: Complex64::new(re, im),
        };
        for waves in [
            vec![wave(1.0, -1.0, 10.0)],
            vec![wave(1.0, -1.0, 0.0)],
            vec![
                wave(0.04, -0.5, 0.0),
                wave(-1.0, -4.0, 60.0),
                wave(0.3, -90.0, 0.0),
            ],
        ] {
            let mut samples = (0..2_000_000).rev().map(|k| 5e-6 * f64::from(k));
            let last = samples.find(|t| sum(&waves, *t).abs() > 0.02);
            let found = settles(&waves, 0.02, &Cell::default()).expect("it fades");
            assert!(
                (found - last.expect("outside at first")).abs() < 1e-5,
                "{found} {last:?}"
            );
        }
        assert_eq!(
            settles(&[wave(0.01, -1.0, 3.0)], 0.02, &Cell::default()),
            Some(0.0)
        );
        assert_eq!(
            settles(&[wave(1.0, 0.1, 3.0)], 0.02, &Cell::default()),
            None
        );
    }
}
