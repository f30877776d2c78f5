//! The duration of the time response and its step size.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::hold::PARTS;
use super::laplace;
use super::march::Return;
use super::poles::{ClosedPole, closed_poles};
use super::{MotionAsk, Stimulus};
use crate::feedback::{OpenLoop, Traced};
use crate::numerics::modulus;
use crate::plant::Model;

/// Fewest and most time steps of a standard stimulus, and most along a trajectory.
const STEPS: (f64, f64, f64) = (100.0, 2000.0, 20_000.0);
/// Step times the largest relevant pole magnitude, radians: the value aimed at, and the value above which the time
/// stepping is no longer accurate.
const TURN: (f64, f64) = (0.5, 2.0);
/// Factor on the step along a trajectory, whose corners do not lie on the time grid.
const CLOSER: f64 = 0.5;
/// Frequencies with |L| above this must be resolved by the step.
const SMALL: f64 = 0.1;
/// Poles whose residue in the error is smaller than this, relative to the largest, need not be resolved.
const SHARE: f64 = 0.01;
/// Nor need poles that exist only because of the delay: |L| is so small there that they decay by at least e to this
/// power within one delay.
const DELAYS: f64 = 2.0;
/// Damping ratio below which a pole is taken as oscillatory.
const RINGS: f64 = 0.5;
/// The duration ends when every residue has decayed to this fraction of the settling band.
const FADED: f64 = 0.1;
/// Factor on that duration, since the two poles of a pair add up.
const SPARE: f64 = 1.3;
/// The response of an unstable loop is shown until it has grown by e to this power.
const GROWTH: f64 = 6.0;

/// The time grid of a response.
pub(super) struct Pace {
    /// Whether the closed loop is stable; none where it cannot be said.
    pub stable: Option<bool>,
    /// Seconds in a step.
    pub step: f64,
    pub steps: usize,
    pub back: Return,
    /// The size of the loop's fastest pole, rad/s.
    pub fastest: f64,
    /// Whether the duration was cut to keep the time stepping accurate.
    pub cut: bool,
    /// Whether the fastest relevant pole is not resolved by the step.
    pub coarse: bool,
}

impl Pace {
    /// The step resolves all frequencies with |L| above [`SMALL`] and the closed loop's poles with a relevant residue.
    /// The duration is the time until the slowest residue has decayed to a tenth of the settling band, unless the user
    /// gives one. A trajectory is computed from its first row on; before it the loop is at rest. `traced` is the loop's
    /// whole frequency response.
    pub fn set(
        open: &OpenLoop,
        model: &Model,
        traced: &[Traced],
        direct: f64,
        ask: &MotionAsk,
    ) -> Pace {
        let poles = closed_poles(open, model);
        let stable = is_stable(model, &poles, direct, open.unstable_poles(traced));
        let (shares, scale) = shares(model, &poles, ask);
        let matters = |share: &&Share| {
            share.size > SHARE && heard(open, model, share.pole, ask) > SHARE * scale
        };
        let resolved = shares.iter().filter(matters).map(|s| s.pole.norm());
        let quick = quickest(resolved, traced);
        let faded = if stable == Some(true) {
            fading(&shares, ask.settle_band)
        } else {
            growing(&poles, model.delay, direct)
        };
        let wanted = faded.filter(|t| t.is_finite()).unwrap_or(40.0 / quick) + 2.0 * model.delay;
        let (duration, rest, most, closer) = match &ask.stimulus {
            Stimulus::Trajectory { trajectory } => {
                (trajectory.duration(), trajectory.rest(), STEPS.2, CLOSER)
            }
            _ => (0.0, 0.0, STEPS.1, 1.0),
        };
        let own = ask.span.map(|span| span - rest).filter(|span| *span > 0.0);
        let own = own.unwrap_or(duration + wanted.max(10.0 / quick));
        // Without a delay the values at the nodes are exact for any step size, as long as the loop is stable.
        let bounded = model.delay == 0.0 && stable == Some(true);
        let longest = if bounded {
            f64::INFINITY
        } else {
            most * TURN.1 / quick
        };
        let span = own.min(longest);
        let count = (span * quick / (closer * TURN.0))
            .clamp(STEPS.0, most)
            .ceil();
        let (step, back) = fitted(span, span / count, model.delay, direct, most);
        let sizes = open.poles().into_iter().map(|p| p.norm());
        let sizes = sizes.filter(|p| p.is_finite());
        Pace {
            stable,
            step,
            steps: (span / step - 1e-9).ceil().max(1.0) as usize,
            back,
            fastest: sizes.fold(quick, f64::max),
            cut: span < own,
            coarse: step * quick > 1.01 * TURN.1,
        }
    }

    /// Seconds between nodes.
    pub fn node(&self) -> f64 {
        self.step / PARTS as f64
    }
}

/// Whether the closed loop is stable; none where it cannot be said. `unstable` is how many poles the loop's curve tells.
fn is_stable(
    model: &Model,
    poles: &[ClosedPole],
    direct: f64,
    unstable: Option<usize>,
) -> Option<bool> {
    // With a delay, a feedthrough of magnitude 1 or more never decays.
    let neutral = model.delay > 0.0 && direct.abs() >= 1.0;
    match unstable {
        _ if neutral => Some(false),
        Some(count) => Some(count == 0),
        None if model.delay == 0.0 && !poles.is_empty() => {
            Some(poles.iter().all(|p| p.at.re < 0.0))
        }
        None => None,
    }
}

/// What the step must resolve, rad/s: these poles, and all frequencies with |L| above [`SMALL`].
fn quickest(poles: impl Iterator<Item = f64>, traced: &[Traced]) -> f64 {
    let last = traced.iter().rev().find(|t| modulus(t.open) > SMALL);
    let quick = poles.fold(last.map_or(0.0, |t| TAU * t.frequency), f64::max);
    let high = traced.last().map_or(1.0, |t| TAU * t.frequency);
    if quick.is_normal() { quick } else { high }
}

/// The largest step below the required one of which the delay is an integer multiple, where the delay is long enough.
fn fitted(span: f64, step: f64, delay: f64, direct: f64, most: f64) -> (f64, Return) {
    if delay == 0.0 {
        (step, Return::Closed)
    } else if delay >= step {
        let count = (delay / step).ceil();
        (delay / count, Return::Steps(count as usize))
    } else if direct != 0.0 && span / delay <= most {
        // A discontinuity returns after each delay and must lie on a node each time.
        (delay, Return::Steps(1))
    } else {
        (step, Return::Within(delay / step))
    }
}

/// A closed-loop pole with its residue in the error.
struct Share {
    pole: Complex64,
    /// Magnitude of the residue in the error, relative to a step or else to the largest residue.
    size: f64,
}

/// The relevant poles with their residues, and the reference of these.
fn shares(model: &Model, poles: &[ClosedPole], ask: &MotionAsk) -> (Vec<Share>, f64) {
    let order = ask.stimulus.order();
    let mut shares: Vec<Share> = poles
        .iter()
        .filter(|p| -p.at.re * model.delay < DELAYS)
        .map(|p| {
            let entry = match ask.stimulus {
                Stimulus::Disturbance => laplace::plant(model, p.at).0.norm(),
                _ => 1.0,
            };
            Share {
                pole: p.at,
                size: entry * (p.residue / p.at.powi(order)).norm(),
            }
        })
        .filter(|share| share.size.is_finite())
        .collect();
    let scale = match ask.stimulus {
        Stimulus::Step | Stimulus::Trajectory { .. } => 1.0,
        _ => shares
            .iter()
            .fold(f64::MIN_POSITIVE, |most, s| most.max(s.size)),
    };
    shares.iter_mut().for_each(|share| share.size /= scale);
    (shares, scale)
}

/// A pole's contribution to the frequency response at its own frequency; 0 where it is not oscillatory.
///
/// At frequencies with small |L| there are often clusters of poles whose residues are large and cancel each other: the
/// response there is smaller than one pole's residue suggests.
fn heard(open: &OpenLoop, model: &Model, pole: Complex64, ask: &MotionAsk) -> f64 {
    let size = pole.norm();
    if -pole.re > RINGS * size {
        return 0.0;
    }
    let s = Complex64::new(0.0, pole.im.abs().max(0.1 * size));
    let l = laplace::at(open, model, s).0;
    let answer = match ask.stimulus {
        Stimulus::Disturbance => laplace::plant(model, s).0 / (1.0 + l),
        _ => l / (1.0 + l),
    };
    2.0 * answer.norm() * pole.re.abs() / size.powi(ask.stimulus.order())
}

/// When all residues have decayed, s.
fn fading(shares: &[Share], band: f64) -> Option<f64> {
    let falling = shares.iter().filter(|s| s.pole.re < 0.0 && s.size > 0.0);
    let times = falling.map(|s| (s.size / (FADED * band)).ln() / -s.pole.re);
    times.max_by(f64::total_cmp).map(|t| SPARE * t)
}

/// When the fastest unstable pole has grown by e^GROWTH, s.
fn growing(poles: &[ClosedPole], delay: f64, direct: f64) -> Option<f64> {
    let poles = poles.iter().map(|p| p.at.re);
    let round = (direct.abs().ln() / delay).max(0.0);
    let rate = poles
        .chain([if round.is_finite() { round } else { 0.0 }])
        .fold(0.0, f64::max);
    (rate > 0.0).then(|| GROWTH / rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_go_into_the_delay() {
        assert_eq!(fitted(1.0, 0.03, 0.1, 0.0, 2e3), (0.025, Return::Steps(4)));
        assert_eq!(
            fitted(1.0, 0.03, 0.015, 0.0, 2e3),
            (0.03, Return::Within(0.5))
        );
        assert_eq!(fitted(1.0, 0.03, 0.01, 0.5, 2e3), (0.01, Return::Steps(1)));
        assert_eq!(fitted(1.0, 0.03, 0.0, 0.5, 2e3), (0.03, Return::Closed));
    }
}
