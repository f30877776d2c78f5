//! Stepwise model selection: terms that the sweep supports are added, terms that it does not support are removed.

use std::collections::VecDeque;
use std::f64::consts::TAU;
use std::task::Poll;

use super::data::Data;
use super::descent::Descent;
use super::judge;
use super::low_end::LowEnd;
use super::scan::{self, Scan};
use super::settings::{Free, FreeMode, Settings, Wish};
use super::settling::Settling;
use crate::plant::{Mode, Model};

/// Accepted changes after which the selection stops.
const MOST_CHANGES: usize = 30;
/// Predicted fall of the cost, in noise variances, that a score test must give before a term is fitted.
const HOPE: f64 = 12.0;
/// A residue slope is fitted before a further mode when its predicted fall of the cost is at least this fraction of the
/// mode's.
const SIMPLER: f64 = 0.6;

/// Most iterations for a trial model.
const MOST_STEPS: u32 = 25;

/// The same for a lag: a real one converges soon; for one that is not there the corner diverges to high frequencies.
const LAG_STEPS: u32 = 8;

/// What the selection may change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rules {
    pub low_end: Option<LowEnd>,
    pub delay: Wish,
    pub lag: Wish,
    pub most_modes: usize,
}

impl Rules {
    pub fn of(settings: &Settings) -> Rules {
        Rules {
            low_end: settings.low_end,
            delay: settings.delay,
            lag: settings.lag,
            most_modes: settings.most_modes,
        }
    }
}

/// The next kind of change.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    Lag,
    Looking,
    Modes,
    Simpler,
    Done,
}

/// A trial model, its free parameters, and the most iterations.
type Change = (Model, Free, u32);

/// The selection: the best model so far, changed as long as the criterion improves.
#[derive(Clone, Debug)]
pub(super) struct Growth {
    pub best: Descent,
    rules: Rules,
    phase: Phase,
    scan: Option<Scan>,
    waiting: VecDeque<Change>,
    attempt: Option<Settling>,
    changes: usize,
}

impl Growth {
    pub fn new(best: Descent, rules: Rules) -> Growth {
        // The weights of points may have changed since the modes were found: the model without weak modes is tried first.
        let pruned = (best.model.clone(), best.free.clone(), MOST_STEPS);
        Growth {
            best,
            rules,
            phase: Phase::Lag,
            scan: None,
            waiting: VecDeque::from([pruned]),
            attempt: None,
            changes: 0,
        }
    }

    /// One slice of work; ready when finished.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        if let Some(attempt) = &mut self.attempt {
            if attempt.step(data).is_ready() {
                let new = self.attempt.take().map(|a| a.descent);
                self.compare(new, data);
            }
            return Poll::Pending;
        }
        if let Some((model, free, steps)) = self.waiting.pop_front() {
            let descent = Descent::new(model, free, self.best.limits, data).at_most(steps);
            self.attempt = Some(Settling::new(descent));
            return Poll::Pending;
        }
        match self.phase {
            Phase::Lag => {
                self.waiting = self.lags(data).into();
                self.phase = Phase::Looking;
            }
            Phase::Looking => {
                let scan = self.scan.get_or_insert_with(|| Scan::new(&self.best, data));
                if scan.step(&self.best, data).is_ready() {
                    self.phase = Phase::Modes;
                }
            }
            Phase::Modes => {
                self.waiting = self.additions(data).into();
                self.phase = Phase::Simpler;
            }
            Phase::Simpler => {
                self.waiting = self.simpler(data).into();
                self.phase = Phase::Done;
            }
            Phase::Done => return Poll::Ready(()),
        }
        Poll::Pending
    }

    /// Accepts a trial model if the criterion is better, and starts the sequence again.
    fn compare(&mut self, new: Option<Descent>, data: &Data) {
        let better = |new: &Descent| judge::better(new, &self.best, data);
        if let Some(new) = new.filter(better)
            && self.changes < MOST_CHANGES
        {
            self.best = new;
            self.changes += 1;
            self.waiting.clear();
            self.scan = None;
            self.phase = Phase::Lag;
        }
    }

    /// The model with a lag, started from corners within and above the sweep.
    fn lags(&self, data: &Data) -> Vec<Change> {
        if self.rules.lag != Wish::Found || self.best.model.lag.is_some() {
            return Vec::new();
        }
        let (_, high) = data.range();
        let with = |share: f64| {
            let (mut model, mut free) = (self.best.model.clone(), self.best.free.clone());
            model.lag = Some(share * high / TAU);
            free.lag = true;
            // A lag also delays: the delay is reduced by what gives about the same phase.
            if free.delay {
                model.delay = (model.delay - 0.7 / (share.max(1.0) * high)).max(0.0);
            }
            (model, free, LAG_STEPS)
        };
        vec![with(0.2), with(1.0)]
    }

    /// The model with one more mode, or with a residue slope; that with the larger predicted fall of the cost first.
    fn additions(&mut self, data: &Data) -> Vec<Change> {
        let noise = judge::noise(self.best.cost, self.best.unknowns(), data);
        let lacks = self.scan.take().map_or_else(Vec::new, |scan| scan.best(2));
        let room = self.best.model.modes.len() < self.rules.most_modes;
        let hopeful = |fall: f64| fall > HOPE * noise;
        let modes = lacks
            .iter()
            .filter(|lack| room && hopeful(lack.fall))
            .map(|lack| {
                let (mut model, mut free) = (self.best.model.clone(), self.best.free.clone());
                model.modes.push(Mode {
                    frequency: lack.frequency,
                    damping: lack.damping,
                    residue: 0.0,
                    slope: 0.0,
                });
                free.modes.push(FreeMode::USUAL);
                (model, free, MOST_STEPS)
            });
        let mut additions: Vec<Change> = modes.collect();
        let most = lacks.first().map_or(0.0, |lack| lack.fall);
        if let Some((k, fall)) = scan::slope(&self.best, data)
            && hopeful(fall)
        {
            let mut free = self.best.free.clone();
            free.modes[k].slope = true;
            let sloped = (self.best.model.clone(), free, MOST_STEPS);
            let first = fall >= SIMPLER * most;
            additions.insert(if first { 0 } else { additions.len() }, sloped);
        }
        additions
    }

    /// The model without its lag, its delay or a slope where these are not significant.
    fn simpler(&self, data: &Data) -> Vec<Change> {
        let Descent { model, free, .. } = &self.best;
        let doubts = judge::doubts(&self.best, data);
        let mut others = Vec::new();
        if self.rules.lag == Wish::Found && doubts.lag {
            let mut model = model.clone();
            model.lag = None;
            others.push((model, free.clone()));
        }
        if self.rules.delay == Wish::Found && doubts.delay {
            let (mut model, mut free) = (model.clone(), free.clone());
            model.delay = 0.0;
            free.delay = false;
            others.push((model, free));
        }
        for &k in &doubts.slopes {
            let (mut model, mut free) = (model.clone(), free.clone());
            model.modes[k].slope = 0.0;
            free.modes[k].slope = false;
            others.push((model, free));
        }
        others
            .into_iter()
            .map(|(model, free)| (model, free, MOST_STEPS))
            .collect()
    }
}
