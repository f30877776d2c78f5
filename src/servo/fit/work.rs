//! A fit in slices.

use super::approach::Approach;
use super::check::{check, check_points};
use super::contest::Contest;
use super::crowd::Crowd;
use super::data::{Data, LEAST_POINTS, LEAST_UNKNOWNS, Scale, prepare};
use super::decision::{Decision, decide};
use super::descent::{COARSE, Descent, FINE};
use super::doubting::{Doubting, Verdict};
use super::error::FitError;
use super::fitted::Fitted;
use super::growth::{Growth, Rules};
use super::judge;
use super::low_end::LowEnd;
use super::merging::Merging;
use super::noise::{self, Noise};
use super::outliers;
use super::placing::Placing;
use super::search::Search;
use super::settings::{Settings, Wish};
use super::summary;
use super::terms::Limits;
use crate::servo::Sweep;
use std::f64::consts::TAU;

/// Points that a search for starting values looks at, at most.
const SEARCHED: usize = 300;
/// How often points are set aside and the model grown again.
const MOST_CLEANINGS: usize = 3;
/// How often low ends are held against each other.
const MOST_CONTESTS: usize = 3;
/// How often points are weighed anew by what a model leaves.
const MOST_WEIGHINGS: usize = 3;

/// Fitting a model to a sweep, in small steps.
///
/// ```
/// use num_complex::Complex64;
/// use polewright::servo::{FitWork, Point, Settings, Sweep};
/// let points = (1..=40).map(|i| Point::new(f64::from(i), 3.0 / Complex64::new(0.0, f64::from(i))));
/// let sweep = Sweep { points: points.collect() };
/// let mut work = FitWork::begin(&sweep, &Settings::default()).expect("points enough");
/// while work.step() {}
/// let fitted = work.into_fitted();
/// assert_eq!(fitted.model.rigid.map(|r| r.integrators), Some(1));
/// ```
#[derive(Clone, Debug)]
pub struct FitWork {
    sweep: Sweep,
    scale: Scale,
    data: Data,
    /// Which points of the sweep each point of `data` stands for.
    crowd: Crowd,
    rules: Rules,
    /// The best model so far, once a search or a start has given one.
    best: Descent,
    /// The best model from a start, while modes are placed anew.
    before: Option<Descent>,
    state: State,
    /// Indices into `data`.
    set_aside: Vec<usize>,
    /// What all points weighed before any was set aside.
    weights: Vec<f64>,
    cleanings: usize,
    decision: Option<Decision>,
    contests: usize,
    /// How noisy points are, once a model has told; and how often points were weighed anew.
    noise: Option<Noise>,
    weighings: usize,
    /// A point was set aside since the model grew.
    regrow: bool,
}

#[derive(Clone, Debug)]
enum State {
    Searching(Box<Search>),
    Placing(Box<Placing>),
    Approaching(Box<Approach>),
    Growing(Box<Growth>),
    /// Whether the model has grown before.
    Doubting(Box<Doubting>, bool),
    Contending(Box<Contest>),
    Merging(Box<Merging>),
    /// To the last digit.
    Refining,
    Done,
}

impl FitWork {
    /// Checks a sweep and settings and prepares to fit.
    ///
    /// # Errors
    /// What is wrong with the sweep or the settings, or how many points are missing.
    pub fn begin(sweep: &Sweep, settings: &Settings) -> Result<FitWork, FitError> {
        check(settings)?;
        let (scale, data) = prepare(sweep, settings)?;
        let from = settings.from.unwrap_or(0.0);
        let first = sweep
            .points
            .iter()
            .take_while(|p| p.frequency < from)
            .count();
        let held = |wish: Wish, factor: f64| match wish {
            Wish::Held(value) => Wish::Held(value * factor),
            other => other,
        };
        let rules = Rules {
            delay: held(settings.delay, scale.omega),
            lag: held(settings.lag, 1.0 / scale.omega),
            ..Rules::of(settings)
        };
        let (best, state) = match &settings.start {
            Some(start) => {
                check_points(&start.model, &start.free, data.count())?;
                let best = Descent::new(
                    scale.inward(&start.model),
                    start.free.clone(),
                    Limits::of(&data),
                    &data,
                );
                let placing = Placing::new(&start.model, &start.free);
                (best, State::Placing(Box::new(placing)))
            }
            None => {
                if data.count() < LEAST_POINTS {
                    return Err(FitError::Points {
                        points: data.count(),
                        needed: LEAST_POINTS,
                        parameters: LEAST_UNKNOWNS,
                    });
                }
                let search = Search::new(data.thinned(SEARCHED), rules);
                let best = search.plain(Limits::narrow(&data), &data);
                (best, State::Searching(Box::new(search)))
            }
        };
        let weights = data.weight.clone();
        Ok(FitWork {
            sweep: sweep.clone(),
            scale,
            data,
            crowd: Crowd::each(first),
            rules,
            best,
            before: None,
            state,
            set_aside: Vec::new(),
            weights,
            cleanings: 0,
            decision: None,
            contests: 0,
            noise: None,
            weighings: 0,
            regrow: false,
        })
    }

    /// Does a small piece: a relocation of poles, one step of a descent, a look at a few places. Returns
    /// whether there is more to do.
    pub fn step(&mut self) -> bool {
        match &mut self.state {
            State::Searching(search) => {
                if search.step() {
                    return true;
                }
                if let Some(best) = search.take_best() {
                    let limits = self.best.limits;
                    self.best = best;
                    self.best.limits = limits;
                }
                self.condense();
                self.best.resume(COARSE, &self.data);
                self.doubt(false);
            }
            State::Doubting(doubting, grown) => {
                let grown = *grown;
                match doubting.step(&self.best, &self.data) {
                    Verdict::Open => (),
                    Verdict::Bad(point, without) if self.set_aside.len() < self.most_aside() => {
                        self.put_aside(point);
                        self.best = *without;
                        self.regrow = true;
                        self.doubt(grown);
                    }
                    _ if grown => self.judge_points(),
                    _ => self.grow(),
                }
            }
            State::Placing(placing) => {
                if placing.step(&mut self.best, &self.data) {
                    return true;
                }
                let approach = Approach::new(&self.best, &self.data);
                self.state = State::Approaching(Box::new(approach));
            }
            State::Approaching(approach) => {
                if approach.step(&self.data) {
                    return true;
                }
                if let Some(best) = approach.take_best() {
                    self.best = best;
                }
                match self.before.take() {
                    // What is left is no noise: perhaps a mode lost its peak.
                    None if judge::alike(&self.best.residual) > judge::ALIKE => {
                        let placing = Placing::anew(&self.best);
                        self.before = Some(self.best.clone());
                        self.state = State::Placing(Box::new(placing));
                    }
                    Some(before) if before.cost < self.best.cost => {
                        self.best = before;
                        self.refine();
                    }
                    _ => self.refine(),
                }
            }
            State::Growing(growth) => {
                if growth.step(&self.data) {
                    return true;
                }
                self.best = growth.best.clone();
                self.doubt(true);
            }
            State::Contending(contest) => {
                if contest.step(&self.data) {
                    return true;
                }
                let entrants = std::mem::take(&mut contest.entrants);
                self.end_contest(&entrants);
            }
            State::Merging(merging) => {
                if !merging.step(&self.data) {
                    self.best = merging.best.clone();
                    self.refine();
                }
            }
            State::Refining => {
                if !self.best.step(&self.data) {
                    self.state = State::Done;
                }
            }
            State::Done => return false,
        }
        true
    }

    /// What was found; works to the end if there is more to do.
    pub fn into_fitted(mut self) -> Fitted {
        while self.step() {}
        let set_aside = self.crowd.members(&self.set_aside);
        let (low, high) = self.data.range();
        let hertz = |omega: f64| omega * self.scale.omega / TAU;
        summary::fitted(
            &self.best,
            &self.data,
            self.scale,
            &self.sweep,
            set_aside,
            (hertz(low), hertz(high)),
            self.decision,
        )
    }

    fn doubt(&mut self, grown: bool) {
        let doubting = Doubting::new(&self.best, &self.data);
        self.state = State::Doubting(Box::new(doubting), grown);
    }

    fn grow(&mut self) {
        self.regrow = false;
        self.best.resume(COARSE, &self.data);
        self.state = State::Growing(Box::new(Growth::new(self.best.clone(), self.rules)));
    }

    /// Sets points aside that lie far off what grew, and grows anew when there are any.
    fn judge_points(&mut self) {
        let far = outliers::far_off(&self.best, &self.data);
        let room = self.most_aside().saturating_sub(self.set_aside.len());
        let bad = !far.is_empty() && far.len() <= room;
        if bad {
            far.into_iter().for_each(|point| self.put_aside(point));
        }
        if (bad || self.regrow) && self.cleanings < MOST_CLEANINGS {
            self.cleanings += 1;
            self.grow();
        } else {
            self.take_back();
            if self.weigh_anew() {
                self.grow();
            } else {
                self.contend();
            }
        }
    }

    /// Takes points back that a passing model called bad.
    fn take_back(&mut self) {
        let back = outliers::fit_after_all(&self.set_aside, &self.weights, &self.best, &self.data);
        self.set_aside.retain(|point| !back.contains(point));
        for point in back {
            self.data.weight[point] = self.weights[point];
        }
    }

    fn put_aside(&mut self, point: usize) {
        self.data.weight[point] = 0.0;
        self.set_aside.push(point);
    }

    /// Points that may be set aside: one in twenty.
    fn most_aside(&self) -> usize {
        self.data.omega.len() / 20
    }

    /// Weighs points by the noise that the model leaves. Whether that changed much.
    fn weigh_anew(&mut self) -> bool {
        if self.weighings == MOST_WEIGHINGS {
            return false;
        }
        self.weighings += 1;
        let sizes = self.data.sizes();
        let now: Vec<f64> = self
            .weights
            .iter()
            .zip(&self.data.trust)
            .map(|(w, t)| t.sqrt() / w)
            .collect();
        self.noise = Noise::of_residual(&self.data, &sizes, &self.best.residual);
        let new = self
            .noise
            .map_or_else(|| sizes.clone(), |noise| noise.sizes(&self.data, &sizes));
        if noise::alike(&new, &now) {
            return false;
        }
        self.weigh(&new);
        true
    }

    fn weigh(&mut self, sizes: &[f64]) {
        self.data.weigh(sizes);
        self.weights = self.data.weight.clone();
        for &point in &self.set_aside {
            self.data.weight[point] = 0.0;
        }
    }

    /// Weighs points that came anew by the noise that is known.
    fn weigh_as_known(&mut self) {
        let sizes = self.data.sizes();
        let noise = self.noise.or_else(|| Noise::of_points(&self.data, &sizes));
        let sizes = noise.map_or_else(|| sizes.clone(), |noise| noise.sizes(&self.data, &sizes));
        self.weigh(&sizes);
    }

    fn contend(&mut self) {
        self.contests += 1;
        self.best.resume(COARSE, &self.data);
        while self.best.step(&self.data) {}
        let contest = Contest::new(&self.best, &self.rules, &self.data);
        self.state = State::Contending(Box::new(contest));
    }

    /// A low end that is better takes the place of the one so far, and the model grows on from there.
    fn end_contest(&mut self, entrants: &[Descent]) {
        let end = |descent: &Descent| LowEnd::of(&descent.model);
        let now = end(&self.best);
        let allowed = entrants
            .iter()
            .filter(|d| self.rules.low_end.is_none_or(|set| set == end(d)));
        if let Some(winner) = judge::Criterion::of(entrants, &self.data).choice(allowed) {
            self.best = winner.clone();
        }
        if end(&self.best) != now && self.contests < MOST_CONTESTS {
            return self.grow();
        }
        let is_set = self.rules.low_end.is_some();
        let decision = decide(&self.best, entrants, is_set, &self.data, self.scale);
        self.decision = Some(decision);
        self.state = State::Merging(Box::new(Merging::new(self.best.clone())));
    }

    /// Brings many points to few that say the same round the best model so far: what comes next then costs the same
    /// for any number of rows.
    fn condense(&mut self) {
        let model = self.scale.outward(&self.best.model);
        if let Some((crowd, data)) =
            self.crowd
                .condensed(&self.sweep, &model, self.scale, &self.data)
        {
            (self.crowd, self.data) = (crowd, data);
            self.weigh_as_known();
        }
    }

    /// All points again, but those set aside; where these are very many, few that say the same round the model that
    /// came out.
    fn spread_out(&mut self) {
        if self.crowd.is_each() {
            return;
        }
        let aside = self.crowd.members(&self.set_aside);
        let model = self.scale.outward(&self.best.model);
        let (crowd, data) = self.crowd.spread_out(&self.sweep, &model, self.scale);
        self.set_aside = crowd.places(&aside);
        (self.crowd, self.data) = (crowd, data);
        self.weigh_as_known();
    }

    fn refine(&mut self) {
        self.spread_out();
        self.best.resume(FINE, &self.data);
        self.state = State::Refining;
    }
}
