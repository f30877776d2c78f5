//! Models of another low end, made from the best model so far.

use std::f64::consts::TAU;

use super::data::Data;
use super::descent::Descent;
use super::low_end::LowEnd;
use super::select::bare;
use super::settings::{Free, FreeMode};
use crate::plant::{Mode, Model};

/// A mode damped more than this, or so far below the sweep, may stand for another low end.
const ODD_DAMPING: f64 = 0.4;
const ODD_FREQUENCY: f64 = 1.5;

/// Models of a low end to begin with, from the best model so far.
pub(super) fn candidates(end: LowEnd, best: &Descent, data: &Data) -> Vec<Model> {
    let (low, _) = data.range();
    let now = LowEnd::of(&best.model);
    let suspension = best.model.suspension();
    let odd = |k: &usize| {
        let mode = best.model.modes[*k];
        mode.damping > ODD_DAMPING || TAU * mode.frequency < ODD_FREQUENCY * low
    };
    let all: Vec<usize> = (0..best.model.modes.len()).collect();
    let without = |left_out: &dyn Fn(&usize) -> bool| -> Vec<usize> {
        all.iter().copied().filter(|k| !left_out(k)).collect()
    };
    let mut sets = vec![without(&|_| false), without(&odd)];
    if end != LowEnd::Spring {
        // Another low end may take the suspension's place.
        sets.push(without(&|k| Some(*k) == suspension));
    }
    sets.dedup();
    let mut models = Vec::new();
    for set in &sets {
        let modes: Vec<Mode> = set.iter().map(|k| best.model.modes[*k]).collect();
        let with = |rigid, own: Option<Mode>| Model {
            modes: own.into_iter().chain(modes.iter().copied()).collect(),
            ..bare(rigid, best.model.delay, best.model.lag)
        };
        if end == LowEnd::Spring {
            // The lowest of the modes may be it, or one below.
            models.push(with(None, None));
            if now != LowEnd::Spring {
                models.extend(springs(&best.model, low).map(|own| with(None, Some(own))));
            }
        } else if end.has_corner() {
            let corners = corners(&best.model, low);
            models.extend(corners.map(|corner| with(end.rigid(corner / TAU), None)));
        } else {
            models.push(with(end.rigid(low / TAU), None));
        }
    }
    models.retain(|model| *model != best.model);
    models
}

/// The same answer with a friction's corner and a lag in each other's place. Modes lie behind a lag and not behind
/// friction, so that slopes may have stood for the difference.
pub(super) fn exchanged(end: LowEnd, best: &Descent) -> Option<Model> {
    let Model { rigid, lag, .. } = &best.model;
    let corner = rigid.and_then(|rigid| rigid.friction);
    let (rigid, lag, own) = match (end, corner, *lag) {
        (LowEnd::Constant | LowEnd::Integrator, Some(corner), None) => {
            (end.rigid(corner), Some(corner), None)
        }
        (LowEnd::Lag | LowEnd::Friction, _, Some(lag)) => (end.rigid(lag), None, None),
        (LowEnd::Spring, Some(corner), Some(lag)) => (None, None, Some(overdamped(corner, lag))),
        _ => return None,
    };
    let straight = |mode: &Mode| Mode {
        slope: 0.0,
        ..*mode
    };
    let modes = best.model.modes.iter().map(straight);
    Some(Model {
        modes: own.into_iter().chain(modes).collect(),
        ..bare(rigid, best.model.delay, lag)
    })
}

/// The suspension with these two corners, Hz.
fn overdamped(slow: f64, fast: f64) -> Mode {
    let frequency = (slow * fast).sqrt();
    suspension(frequency, (slow + fast) / (2.0 * frequency))
}

fn suspension(frequency: f64, damping: f64) -> Mode {
    Mode {
        frequency,
        damping,
        residue: 0.0,
        slope: 0.0,
    }
}

/// Suspensions below the sweep, or overdamped with the friction that is there.
fn springs(model: &Model, low: f64) -> impl Iterator<Item = Mode> + use<> {
    let held = model.rigid.and_then(|rigid| rigid.friction);
    let slow = held.map(|corner| overdamped(0.2 * low / TAU, corner));
    let below = [0.3, 0.9].map(|share| suspension(share * low / TAU, 0.3));
    slow.into_iter().chain(below)
}

/// Corners of friction, rad/s: that which is there, that of the suspension, and some about the sweep's begin.
fn corners(model: &Model, low: f64) -> impl Iterator<Item = f64> + use<> {
    let held = model.rigid.and_then(|rigid| rigid.friction);
    let held = held.map(|corner| TAU * corner);
    let damped = model.suspension().map(|k| {
        let (omega, z) = (TAU * model.modes[k].frequency, model.modes[k].damping);
        omega * (z + (z * z - 1.0).max(0.0).sqrt())
    });
    let usual = match held.or(damped) {
        Some(_) => vec![0.3 * low],
        None => vec![0.3 * low, 3.0 * low],
    };
    held.into_iter().chain(damped).chain(usual)
}

/// All that was free in the best model, and a new low end's numbers.
pub(super) fn freed(model: &Model, best: &Descent) -> Free {
    let of = |mode: &Mode| {
        let same = best.model.modes.iter().position(|own| own == mode);
        same.map_or(FreeMode::USUAL, |k| best.free.modes[k])
    };
    Free {
        gain: true,
        friction: true,
        modes: model.modes.iter().map(of).collect(),
        lag: model.lag.is_some() && (best.free.lag || best.model.lag.is_none()),
        ..best.free
    }
}
