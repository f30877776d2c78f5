//! Whether a model follows its sweep at all, and whether the points lie too far apart for that.

use std::f64::consts::{FRAC_PI_2, TAU};

use num_complex::Complex64;

use crate::numerics::put_in_order;
use crate::plant::Point;
use crate::quantity::{Unit, rounded};
use crate::wording::hertz_closely as hertz;

/// A model that leaves more than this, rms of the magnitude, does not describe its sweep. A point with so much noise has a
/// coherence of 1/(1 + 0.3²) = 0.92, and below some 0.9 points are usually not believed; sweeps with noise of a few per
/// cent are followed ten times as closely.
const ASTRAY: f64 = 0.3;
/// A magnitude this near to the line through its neighbours, as a logarithm, is no resonance and no noise: 1.3 dB.
const SMOOTH: f64 = 0.15;
/// So many steps of the phase that are too large are no chance; nor is it that so many of all large steps have a smooth
/// magnitude: of noise alone one in some twenty has.
const FEWEST: usize = 4;
const ONE_IN: usize = 4;
/// Steps below the first one that is too large tell the delay, from this size on; so many of them.
const TELLING: f64 = 0.35;
const TOLD_BY: usize = 5;
/// Share of a turn that the phase turns from point to point where points are spaced as advised: 60°, well below the 180°
/// beyond which no one can tell which way it turned.
const ADVISED: f64 = 1.0 / 6.0;

/// A delay of more turns than this at the highest frequency is more than a search for it follows surely, and more than any
/// loop asks for.
const MANY: f64 = 40.0;

/// Whether a model that leaves so much follows its sweep.
pub(super) fn is_followed(rms: f64) -> bool {
    rms <= ASTRAY
}

/// What is said of a model that does not follow its sweep; `residuals` are those of the points.
pub(super) fn notes(points: &[Point], residuals: &[Complex64], rms: f64) -> Vec<String> {
    let coarse = Coarse::of(points, residuals);
    let mut said = Vec::new();
    if !is_followed(rms) {
        let advice = match &coarse {
            Some(_) => "",
            None => {
                " Look whether frequencies, magnitudes and phases of the sweep are what they are taken for; fit a part of \
                 the sweep alone, or allow more modes."
            }
        };
        said.push(format!(
            "The model does not follow the sweep: it leaves {} rms of the measured magnitude, and nothing that is told of \
             it can be relied on.{advice}",
            rounded(rms, Unit::Percent, 2)
        ));
    }
    said.extend(coarse.map(|coarse| coarse.told()));
    said
}

/// A stretch of a sweep in which the phase turns too far from point to point.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Coarse {
    /// Where it begins, Hz.
    from: f64,
    /// The delay that turns the phase so, s.
    delay: f64,
    /// Whole turns by it at the highest frequency.
    turns: f64,
}

impl Coarse {
    /// The phase turns by more than 90° from point to point, where the magnitude says that there is no resonance, and the
    /// model is lost there.
    fn of(points: &[Point], residuals: &[Complex64]) -> Option<Coarse> {
        let is_smooth: Vec<bool> = (0..points.len()).map(|k| is_smooth(points, k)).collect();
        let turn = |k: usize| {
            (points[k + 1].response * points[k].response.conj())
                .arg()
                .abs()
        };
        let pairs = 0..points.len().saturating_sub(1);
        let (mut fast, mut slow, mut others) = (Vec::new(), Vec::new(), 0);
        for k in pairs {
            let is_fast = turn(k) > FRAC_PI_2;
            match is_smooth[k] && is_smooth[k + 1] {
                true if is_fast => fast.push(k),
                true if fast.is_empty() => slow.push(k),
                // Resonances turn the phase too, and noise turns it anyhow.
                false if is_fast => others += 1,
                _ => (),
            }
        }
        let mut left: Vec<f64> = fast
            .iter()
            .filter_map(|k| Some(residuals.get(*k)?.norm()))
            .collect();
        put_in_order(&mut left, f64::total_cmp);
        let is_lost = left
            .get(left.len() / 2)
            .is_some_and(|middle| *middle > ASTRAY);
        if fast.len() < FEWEST || ONE_IN * fast.len() <= fast.len() + others || !is_lost {
            return None;
        }
        let pace = |k: &usize| turn(*k) / (TAU * (points[k + 1].frequency - points[*k].frequency));
        // The nearest steps below are those of the delay most of all.
        let telling = slow.iter().rev().filter(|k| turn(**k) > TELLING);
        let mut paces: Vec<f64> = telling.take(TOLD_BY).map(pace).collect();
        put_in_order(&mut paces, f64::total_cmp);
        // Without any of them the delay is at least what the first large step says.
        let delay = paces
            .get(paces.len() / 2)
            .copied()
            .unwrap_or_else(|| pace(&fast[0]));
        Some(Coarse {
            from: points[fast[0]].frequency,
            turns: delay * points.last()?.frequency,
            delay,
        })
    }

    fn told(self) -> String {
        let advice = match self.turns < MANY {
            true => format!(
                ", or measure at most {} apart from there up to the highest frequency.",
                rounded(ADVISED / self.delay, Unit::Hertz, 2)
            ),
            false => format!(
                ": at the highest frequency the delay has turned the phase {} times, more than a loop can use.",
                self.turns.round()
            ),
        };
        format!(
            "From {} on the phase turns by more than 90° from point to point while the magnitude is smooth: the points lie \
             too far apart for the plant’s delay, some {}. Fit the sweep up to there alone{advice}",
            hertz(self.from),
            rounded(self.delay, Unit::Second, 2),
        )
    }
}

/// Whether the magnitude of a point lies near the line through its neighbours', over the logarithm of frequency.
fn is_smooth(points: &[Point], k: usize) -> bool {
    let Some([before, own, after]) = k.checked_sub(1).and_then(|at| points.get(at..at + 3)) else {
        return false;
    };
    let level = |point: &Point| point.response.norm().ln();
    let way = |point: &Point| point.frequency.ln();
    let share = (way(own) - way(before)) / (way(after) - way(before));
    let line = level(before) + share * (level(after) - level(before));
    // What is 0 has no level, and is not smooth.
    (level(own) - line).abs() < SMOOTH
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{Mode, Model};

    fn swept(delay: f64, count: u32) -> Vec<Point> {
        let model = Model {
            modes: vec![Mode {
                frequency: 30.0,
                damping: 0.01,
                residue: 1.0,
                slope: 0.0,
            }],
            rigid: None,
            lag: None,
            delay,
        };
        let at = |k: u32| 3.0 * 1e3f64.powf(f64::from(k) / f64::from(count - 1));
        let point = |k: u32| Point::new(at(k), model.at(at(k)));
        (0..count).map(point).collect()
    }

    #[test]
    fn steps_that_are_too_large_tell_the_delay() {
        let points = swept(2e-3, 80);
        let lost = vec![Complex64::new(1.0, 0.0); 80];
        let found = Coarse::of(&points, &lost).expect("a stretch");
        assert!((found.delay / 2e-3 - 1.0).abs() < 0.1, "{found:?}");
        // A quarter of a turn at 125 Hz a step.
        assert!((1.0e3..1.8e3).contains(&found.from), "{found:?}");
        // What is followed is not complained of.
        assert_eq!(Coarse::of(&points, &[Complex64::ZERO; 80]), None);
        // Nor are a resonance alone, and points enough.
        assert_eq!(Coarse::of(&swept(2e-5, 80), &lost), None);
    }

    /// Noise turns the phase anyhow, and is not smooth.
    #[test]
    fn noise_is_no_delay() {
        let mut points = swept(2e-5, 200);
        for (k, point) in points.iter_mut().enumerate().skip(100) {
            let u = (k as f64 * 0.618_034).fract();
            let size = (-(u.max(1e-3)).ln()).sqrt();
            point.response =
                Complex64::from_polar(1e-4 * size, TAU * (k as f64 * 0.754_878).fract());
        }
        assert_eq!(Coarse::of(&points, &[Complex64::ONE; 200]), None);
    }
}
