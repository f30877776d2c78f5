//! From a sweep alone to a model worth refining.

use std::task::Poll;

use super::data::Data;
use super::delay;
use super::descent::Descent;
use super::growth::Rules;
use super::judge;
use super::low_end::LowEnd;
use super::poles::{self, Pole};
use super::select::{Choice, bare, freed, with_modes};
use super::settings::{Free, Wish};
use super::settling::Settling;
use super::terms::Limits;
use crate::numerics::put_in_order;
use crate::plant::{Mode, Model, Rigid};
use std::f64::consts::TAU;

/// Delays for which poles are looked for.
const DELAYS: usize = 3;
/// Relocations of the poles for each.
const ROUNDS: usize = 4;
/// Pole pairs that are looked for.
const PAIRS: usize = 7;
/// Models that are refined to be compared.
const TRIED: usize = 5;
/// Corners of lags that are tried, in highest frequencies.
const LAGS: [f64; 3] = [0.08, 0.3, 1.0];

/// Corners of friction that are tried, in lowest frequencies, as far as they lie within the sweep.
const CORNERS: [f64; 6] = [0.1, 0.4, 1.5, 6.0, 25.0, 100.0];

/// Delays whose poles leave this many times the least are out.
const ALMOST: f64 = 4.0;
/// A model that leaves this many times what poles with all freedom leave is good: only smaller ones are
/// worth comparing with it.
const GOOD: f64 = 1.3;
/// Most steps of a model that is compared, and of a delay alone.
const MOST_STEPS: u32 = 25;
const TURNS: u32 = 6;

/// What models are tried, each kind when those before it were not good.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Plain,
    Lagging,
    Sloped,
}

/// A model worth refining.
#[derive(Clone, Debug)]
struct Likely {
    model: Model,
    /// Its index among the delays and poles found.
    found: usize,
}

/// A search in pieces: poles for each likely delay, then models of each low end, refined.
#[derive(Clone, Debug)]
pub(super) struct Search {
    data: Data,
    rules: Rules,
    lag: Option<f64>,
    delays: Vec<f64>,
    /// Poles on their way for the last of `delays`, and how often they moved.
    poles: Vec<Pole>,
    round: usize,
    /// Delay, poles and what they leave.
    found: Vec<(f64, Vec<Pole>, f64)>,
    /// Indices into `found` and low ends whose models are still to be scored, and those that are.
    unscored: Vec<(usize, LowEnd)>,
    scored: Vec<(f64, Likely)>,
    /// Models to be refined, the likeliest last.
    models: Vec<Likely>,
    /// What these are.
    kind: Kind,
    attempt: Option<Settling>,
    best: Option<Descent>,
}

impl Search {
    /// `rules` in the data's units.
    pub fn new(data: Data, rules: Rules) -> Search {
        let delays = match rules.delay {
            Wish::Found => {
                let mut delays = delay::candidates(&data, DELAYS);
                if delays.is_empty() {
                    delays.push(0.0);
                }
                delays
            }
            Wish::Absent => vec![0.0],
            Wish::Held(delay) => vec![delay],
        };
        let pairs = PAIRS.min(poles::most_pairs(&data));
        Search {
            lag: match rules.lag {
                Wish::Held(lag) => Some(lag),
                _ => None,
            },
            poles: poles::spread(&data, pairs),
            data,
            rules,
            delays,
            round: 0,
            found: Vec::new(),
            unscored: Vec::new(),
            scored: Vec::new(),
            models: Vec::new(),
            kind: Kind::Plain,
            attempt: None,
            best: None,
        }
    }

    /// A small piece; ready when there is nothing left to do.
    pub fn step(&mut self) -> Poll<()> {
        if let Some(&delay) = self.delays.last() {
            self.relocate(delay);
            if self.delays.is_empty() {
                self.list();
            }
            return Poll::Pending;
        }
        if let Some((found, end)) = self.unscored.pop() {
            self.score(found, end);
            return Poll::Pending;
        }
        if let Some(attempt) = &mut self.attempt {
            if attempt.step(&self.data).is_ready() {
                let new = self.attempt.take().map(|a| a.descent);
                let score = |d: &Descent| judge::score(d, &self.data);
                let better =
                    |new: &Descent| self.best.as_ref().is_none_or(|old| score(new) < score(old));
                if let Some(new) = new.filter(better) {
                    self.best = Some(new);
                }
            }
            return Poll::Pending;
        }
        let Some(likely) = self.models.pop() else {
            return match self.next_kind() {
                true => Poll::Pending,
                false => Poll::Ready(()),
            };
        };
        let descent = self.begun(likely);
        let beaten = |best: &Descent| {
            best.cost < GOOD * self.least() && best.unknowns() <= descent.unknowns()
        };
        if !self.best.as_ref().is_some_and(beaten) {
            self.attempt = Some(Settling::new(descent.at_most(MOST_STEPS)));
        }
        Poll::Pending
    }

    /// When nothing good was found, or only with odd modes, models of the next kind. Whether there are any.
    fn next_kind(&mut self) -> bool {
        let good = |best: &Descent| best.cost < GOOD * self.least() && !self.odd(&best.model);
        if self.best.as_ref().is_some_and(good) {
            return false;
        }
        self.kind = match self.kind {
            Kind::Plain if self.rules.lag == Wish::Found => Kind::Lagging,
            Kind::Plain | Kind::Lagging => Kind::Sloped,
            Kind::Sloped => return false,
        };
        self.list();
        !self.unscored.is_empty()
    }

    /// Whether a model has modes that may stand for something else: hardly resonant, or outside the sweep.
    fn odd(&self, model: &Model) -> bool {
        let (low, high) = self.data.range();
        let mut modes = model.modes.iter();
        modes.any(|m| m.damping > 0.5 || !(low..=high).contains(&(TAU * m.frequency)))
    }

    /// What may move in a model of the present kind.
    fn freed(&self, model: &Model) -> Free {
        let mut free = freed(model, self.rules.delay == Wish::Found);
        free.lag = self.kind == Kind::Lagging;
        free.modes
            .iter_mut()
            .for_each(|m| m.slope = self.kind == Kind::Sloped);
        free
    }

    /// Rigid parts of a low end to begin with.
    fn rigid_parts(&self, end: LowEnd) -> Vec<Option<Rigid>> {
        let (low, high) = self.data.range();
        if !end.has_corner() {
            return vec![end.rigid(low)];
        }
        let corners = CORNERS.iter().map(|share| share * low);
        corners
            .filter(|corner| *corner < 0.5 * high)
            .map(|corner| end.rigid(corner / TAU))
            .collect()
    }

    /// Corners of lags with which models of the present kind begin.
    fn lags(&self) -> Vec<Option<f64>> {
        let (_, high) = self.data.range();
        match self.kind {
            Kind::Lagging => LAGS.iter().map(|share| Some(share * high / TAU)).collect(),
            _ => vec![self.lag],
        }
    }

    /// A likely model with its delay moved to where its poles want it, and its modes chosen once more: what a
    /// wrong delay asked for beside the true modes is then gone.
    fn begun(&self, likely: Likely) -> Descent {
        let limits = Limits::narrow(&self.data);
        let found = self.rules.delay == Wish::Found;
        let (_, poles, left) = &self.found[likely.found];
        let mut model = likely.model;
        if found {
            let mut free = self.freed(&model);
            for mode in &mut free.modes {
                (mode.frequency, mode.damping) = (false, false);
            }
            let mut turning = Descent::new(model.clone(), free, limits, &self.data).at_most(TURNS);
            while turning.step(&self.data).is_pending() {}
            let bare = Model {
                modes: Vec::new(),
                ..turning.model
            };
            (model, _) = with_modes(bare, poles, self.choice(*left), &self.data);
        }
        let free = self.freed(&model);
        Descent::new(model, free, limits, &self.data)
    }

    /// The least that any delay's poles leave.
    fn least(&self) -> f64 {
        self.found.iter().map(|f| f.2).fold(f64::INFINITY, f64::min)
    }

    fn choice(&self, left: f64) -> Choice {
        let slopes = self.kind == Kind::Sloped;
        let unknowns = if slopes { 4 } else { 3 };
        let room = self.data.count().saturating_sub(2) / unknowns;
        Choice {
            slopes,
            noise: judge::noise(left, self.poles.len() * 2 + 3, &self.data),
            most: self.rules.most_modes.min(room),
        }
    }

    /// The best model found.
    pub fn take_best(&mut self) -> Option<Descent> {
        self.best.take()
    }

    /// What is there before anything is found: the low end alone, or one mode in the middle of the sweep.
    pub fn plain(&self, limits: Limits, data: &Data) -> Descent {
        let end = self.rules.low_end.unwrap_or(LowEnd::Constant);
        let (low, high) = data.range();
        let delay = match self.rules.delay {
            Wish::Held(delay) => delay,
            _ => 0.0,
        };
        let mut model = bare(end.rigid(low / TAU), delay, self.lag);
        if model.rigid.is_none() {
            model.modes.push(Mode {
                frequency: (low * high).sqrt() / TAU,
                damping: 0.1,
                residue: 0.0,
                slope: 0.0,
            });
        }
        let free = freed(&model, self.rules.delay == Wish::Found);
        Descent::new(model, free, limits, data)
    }

    fn relocate(&mut self, delay: f64) {
        let moved = poles::relocated(&self.poles, delay, &self.data);
        self.round += 1;
        let failed = moved.is_none();
        if let Some(moved) = moved {
            self.poles = moved;
        }
        if failed || self.round >= ROUNDS {
            let left = poles::left(&self.poles, delay, &self.data);
            let fresh = poles::spread(&self.data, self.poles.len());
            let poles = std::mem::replace(&mut self.poles, fresh);
            self.found.push((delay, poles, left));
            self.delays.pop();
            self.round = 0;
        }
    }

    /// Lists what models of the present kind are to be scored: all low ends for all delays that are as good
    /// as any.
    fn list(&mut self) {
        let bound = ALMOST * self.least() + 1e-12 * self.data.rows() as f64;
        let asked = self.rules.low_end;
        let ends = || {
            LowEnd::ALL
                .into_iter()
                .filter(move |end| asked.is_none_or(|a| a == *end))
        };
        let good = |found: &usize| self.found[*found].2 <= bound;
        let found = (0..self.found.len()).filter(good);
        self.unscored = found
            .flat_map(|f| ends().map(move |end| (f, end)))
            .collect();
    }

    /// Scores the models of one low end for one delay; after the last, keeps the likeliest.
    fn score(&mut self, found: usize, end: LowEnd) {
        let (delay, poles, left) = &self.found[found];
        let rows = 2.0 * self.data.count() as f64;
        for lag in self.lags() {
            let free = self.kind == Kind::Lagging && self.rules.delay == Wish::Found;
            let delay = less(*delay, lag.filter(|_| free));
            let scored = self.rigid_parts(end).into_iter().filter_map(|rigid| {
                let bare = bare(rigid, delay, lag);
                let (model, cost) = with_modes(bare, poles, self.choice(*left), &self.data);
                let held = f64::from(u8::from(end.has_corner()));
                let unknowns = 2.0 + held + 3.0 * model.modes.len() as f64;
                let score = rows * cost.ln() + unknowns * rows.ln();
                let is_there = model.rigid.is_some() || !model.modes.is_empty();
                is_there.then_some((score, Likely { model, found }))
            });
            // Corners of one low end run together when they are refined.
            self.scored
                .extend(scored.min_by(|a, b| a.0.total_cmp(&b.0)));
        }
        if self.unscored.is_empty() {
            let mut models = std::mem::take(&mut self.scored);
            put_in_order(&mut models, |a, b| a.0.total_cmp(&b.0));
            models.truncate(TRIED);
            self.models = models.into_iter().map(|m| m.1).rev().collect();
        }
    }
}

/// A delay without what a lag already delays, in the part of the sweep below its corner.
fn less(delay: f64, lag: Option<f64>) -> f64 {
    lag.map_or(delay, |corner| (delay - 0.7 / (TAU * corner)).max(0.0))
}
