//! Each low end held against the others.
//!
//! Which one a sweep speaks for is a choice among models of different size. It is made by the Bayesian information
//! criterion (Schwarz, Annals of Statistics 6, 1978; Ljung, "System Identification", 16.4; Pintelon and Schoukens,
//! "System Identification: A Frequency Domain Approach", 11.3; from memory).

use super::data::Data;
use super::descent::Descent;
use super::growth::Rules;
use super::judge::Criterion;
use super::low_end::LowEnd;
use super::select::bare;
use super::settings::{Free, FreeMode};
use super::settling::Settling;
use crate::servo::{Mode, Model};
use num_complex::Complex64;
use std::f64::consts::TAU;

/// Most steps of a model that is compared.
const MOST_STEPS: u32 = 25;
/// A mode damped more than this, or so far below the sweep, may stand for another low end.
const ODD_DAMPING: f64 = 0.4;
const ODD_FREQUENCY: f64 = 1.5;

/// A contest in pieces: a model of each low end, made from the best model so far and refined.
#[derive(Clone, Debug)]
pub(super) struct Contest {
    waiting: Vec<(Model, Free)>,
    attempt: Option<Settling>,
    /// The best model of each low end, in no order.
    pub entrants: Vec<Descent>,
    /// The low end that the user set.
    set: Option<LowEnd>,
}

impl Contest {
    pub fn new(best: &Descent, rules: &Rules, data: &Data) -> Contest {
        let waiting = LowEnd::ALL
            .into_iter()
            .flat_map(|end| candidates(end, best, data))
            .filter(|model| model.modes.len() <= rules.most_modes)
            .filter(|model| model.rigid.is_some() || !model.modes.is_empty())
            .map(|model| {
                let free = freed(&model, best);
                (model, free)
            });
        Contest {
            waiting: waiting.collect(),
            attempt: None,
            entrants: vec![best.clone()],
            set: rules.low_end,
        }
    }

    /// A small piece; `false` when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> bool {
        if let Some(attempt) = &mut self.attempt {
            if !attempt.step(data)
                && let Some(ended) = self.attempt.take()
            {
                self.enter(ended.descent, data);
            }
            return true;
        }
        let Some((model, free)) = self.waiting.pop() else {
            return false;
        };
        let limits = self.entrants[0].limits;
        let descent = Descent::new(model, free, limits, data).at_most(MOST_STEPS);
        self.attempt = Some(Settling::new(descent));
        true
    }

    /// The best model of each low end stays.
    fn enter(&mut self, new: Descent, data: &Data) {
        let end = LowEnd::of(&new.model);
        if self.set != Some(end) && !carries(&new.model, data) {
            return;
        }
        let same = |old: &&mut Descent| LowEnd::of(&old.model) == end;
        match self.entrants.iter_mut().find(same) {
            Some(old) => {
                let criterion = Criterion::of(&[old.clone(), new.clone()], data);
                if criterion.score(&new) < criterion.score(old) {
                    *old = new;
                }
            }
            None => self.entrants.push(new),
        }
    }
}

/// Whether a rigid part that rises towards rest is the larger part where the sweep begins. One that is less than the
/// modes there is no low end, but what noise asks for.
fn carries(model: &Model, data: &Data) -> bool {
    let Some(rigid) = model.rigid.filter(|rigid| rigid.integrators > 0) else {
        return true;
    };
    let s = Complex64::new(0.0, data.range().0);
    let modes: Complex64 = model.modes.iter().map(|mode| mode.of(s)).sum();
    rigid.of(s).norm() > modes.norm()
}

/// Models of a low end to begin with, from the best model so far.
fn candidates(end: LowEnd, best: &Descent, data: &Data) -> Vec<Model> {
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
                models.extend(two_lags(&best.model).map(|own| {
                    let mut model = with(None, Some(own));
                    model.lag = None;
                    // They stood for what the lag did to the modes.
                    model.modes.iter_mut().for_each(|mode| mode.slope = 0.0);
                    model
                }));
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

/// The overdamped suspension that passes for a speed's lag and another lag beside it.
fn two_lags(model: &Model) -> Option<Mode> {
    let held = model.rigid.filter(|rigid| rigid.at_rest() == 0)?.friction?;
    let (slow, fast) = (held.min(model.lag?), held.max(model.lag?));
    let frequency = (slow * fast).sqrt();
    Some(Mode {
        frequency,
        damping: (slow + fast) / (2.0 * frequency),
        residue: 0.0,
        slope: 0.0,
    })
}

/// Suspensions below the sweep, or overdamped with the friction that is there.
fn springs(model: &Model, low: f64) -> impl Iterator<Item = Mode> + use<> {
    let mode = |omega: f64, damping: f64| Mode {
        frequency: omega / TAU,
        damping,
        residue: 0.0,
        slope: 0.0,
    };
    let held = model.rigid.and_then(|rigid| rigid.friction);
    let overdamped = held.map(|corner| {
        let (slow, fast) = (0.2 * low, TAU * corner);
        let omega = (slow * fast).sqrt();
        mode(omega, (slow + fast) / (2.0 * omega))
    });
    let below = [mode(0.3 * low, 0.3), mode(0.9 * low, 0.3)];
    overdamped.into_iter().chain(below)
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
fn freed(model: &Model, best: &Descent) -> Free {
    let of = |mode: &Mode| {
        let same = best.model.modes.iter().position(|own| own == mode);
        same.map_or(FreeMode::USUAL, |k| best.free.modes[k])
    };
    Free {
        gain: true,
        friction: true,
        modes: model.modes.iter().map(of).collect(),
        ..best.free
    }
}
