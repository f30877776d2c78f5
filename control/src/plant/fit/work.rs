//! A fit in slices.

use std::task::Poll;

use super::approach::Approach;
use super::check::{check, check_points};
use super::contest::Contest;
use super::data::{Data, Scale};
use super::decision::{Decision, decide};
use super::descent::{COARSE, Descent, FINE};
use super::doubting::{Doubting, Verdict};
use super::error::FitError;
use super::fitted::Fitted;
use super::growth::{Growth, Rules};
use super::judge;
use super::low_end::LowEnd;
use super::merging::Merging;
use super::outliers;
use super::placing::Placing;
use super::points::Points;
use super::prepare::{LEAST_POINTS, LEAST_UNKNOWNS, prepare};
use super::search::Search;
use super::settings::{Settings, Wish};
use super::summary;
use super::terms::Limits;
use crate::plant::Sweep;

/// Points that a search for starting values looks at, at most.
const SEARCHED: usize = 300;
/// Most repetitions of outlier removal and model selection.
const MOST_CLEANINGS: usize = 3;
/// Most comparisons of the low-frequency models.
const MOST_CONTESTS: usize = 3;

/// Fitting a model to a sweep, in small steps.
///
/// ```
/// use num_complex::Complex64;
/// use control::plant::{FitWork, Point, Settings, Sweep};
/// let points = (1..=40).map(|i| Point::new(f64::from(i), 3.0 / Complex64::new(0.0, f64::from(i))));
/// let sweep = Sweep { points: points.collect() };
/// let mut work = FitWork::begin(&sweep, &Settings::default()).expect("points enough");
/// while work.step().is_pending() {}
/// let fitted = work.into_fitted();
/// assert_eq!(fitted.model.rigid.map(|r| r.integrators), Some(1));
/// ```
#[derive(Clone, Debug)]
pub struct FitWork {
    points: Points,
    rules: Rules,
    /// The best model so far, once a search or a start has given one.
    best: Descent,
    /// The best model from a start, while modes are placed anew.
    before: Option<Descent>,
    state: State,
    cleanings: usize,
    decision: Option<Decision>,
    contests: usize,
    /// Whether an outlier was left out since the last model selection.
    regrow: bool,
}

#[derive(Clone, Debug)]
enum State {
    Searching(Box<Search>),
    Placing(Box<Placing>),
    Approaching(Box<Approach>),
    Growing(Box<Growth>),
    /// Whether a model selection was made before.
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
        let rules = rules(settings, scale);
        let (best, state) = beginning(settings, rules, scale, &data)?;
        Ok(FitWork {
            points: Points::new(sweep, settings.from.unwrap_or(0.0), scale, data),
            rules,
            best,
            before: None,
            state,
            cleanings: 0,
            decision: None,
            contests: 0,
            regrow: false,
        })
    }

    /// Does a small piece: a relocation of poles, one step of a descent, a look at a few places; ready
    /// when there is nothing left to do.
    pub fn step(&mut self) -> Poll<()> {
        let data = &self.points.data;
        match &mut self.state {
            State::Searching(search) => {
                if search.step().is_ready() {
                    let found = search.take_best();
                    self.end_search(found);
                }
            }
            State::Placing(placing) => {
                if placing.step(&mut self.best, data).is_ready() {
                    let approach = Approach::new(&self.best, data);
                    self.state = State::Approaching(Box::new(approach));
                }
            }
            State::Approaching(approach) => {
                if approach.step(data).is_ready() {
                    let found = approach.take_best();
                    self.end_approach(found);
                }
            }
            State::Growing(growth) => {
                if growth.step(data).is_ready() {
                    self.best = growth.best.clone();
                    self.doubt(true);
                }
            }
            State::Doubting(doubting, grown) => {
                let (verdict, grown) = (doubting.step(&self.best, data), *grown);
                self.take_verdict(verdict, grown);
            }
            State::Contending(contest) => {
                if contest.step(data).is_ready() {
                    let entrants = std::mem::take(&mut contest.entrants);
                    self.end_contest(&entrants);
                }
            }
            State::Merging(merging) => {
                if merging.step(data).is_ready() {
                    self.best = merging.best.clone();
                    self.refine();
                }
            }
            State::Refining => {
                if self.best.step(data).is_ready() {
                    self.state = State::Done;
                }
            }
            State::Done => return Poll::Ready(()),
        }
        Poll::Pending
    }

    /// What was found; works to the end if there is more to do.
    pub fn into_fitted(mut self) -> Fitted {
        while self.step().is_pending() {}
        let points = &self.points;
        summary::fitted(
            &self.best,
            &points.data,
            points.scale,
            &points.sweep,
            points.aside(),
            points.range(),
            self.decision,
        )
    }

    /// From the search's best on with fewer points.
    fn end_search(&mut self, found: Option<Descent>) {
        if let Some(found) = found {
            let limits = self.best.limits;
            self.best = found;
            self.best.limits = limits;
        }
        self.points.condense(&self.best);
        self.best.resume(COARSE, &self.points.data);
        self.doubt(false);
    }

    /// Refines what came of a start, or places its modes anew where one may have lost its peak.
    fn end_approach(&mut self, found: Option<Descent>) {
        if let Some(found) = found {
            self.best = found;
        }
        match self.before.take() {
            // The residual is not white noise.
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

    fn doubt(&mut self, grown: bool) {
        let doubting = Doubting::new(&self.best, &self.points.data);
        self.state = State::Doubting(Box::new(doubting), grown);
    }

    /// Leaves out an outlier and tests again; continues when there is none, or too many are left out.
    fn take_verdict(&mut self, verdict: Verdict, grown: bool) {
        match verdict {
            Verdict::Open => (),
            Verdict::Bad(point, without) if self.points.put_aside(&[point]) => {
                self.best = *without;
                self.regrow = true;
                self.doubt(grown);
            }
            _ if grown => self.judge_points(),
            _ => self.grow(),
        }
    }

    fn grow(&mut self) {
        self.regrow = false;
        self.best.resume(COARSE, &self.points.data);
        self.state = State::Growing(Box::new(Growth::new(self.best.clone(), self.rules)));
    }

    /// Leaves out outliers of the selected model, and repeats the selection when there are any.
    fn judge_points(&mut self) {
        let far = outliers::far_off(&self.best, &self.points.data);
        let bad = self.points.put_aside(&far);
        if (bad || self.regrow) && self.cleanings < MOST_CLEANINGS {
            self.cleanings += 1;
            return self.grow();
        }
        self.points.take_back(&self.best);
        if self.points.weigh_anew(&self.best) {
            self.grow();
        } else {
            self.contend();
        }
    }

    fn contend(&mut self) {
        let data = &self.points.data;
        self.contests += 1;
        self.best.resume(COARSE, data);
        while self.best.step(data).is_pending() {}
        let contest = Contest::new(&self.best, &self.rules, data);
        self.state = State::Contending(Box::new(contest));
    }

    /// A low end that is better takes the place of the one so far, and the model grows on from there.
    fn end_contest(&mut self, entrants: &[Descent]) {
        let Points { data, scale, .. } = &self.points;
        let end = |descent: &Descent| LowEnd::of(&descent.model);
        let now = end(&self.best);
        let allowed = entrants
            .iter()
            .filter(|d| self.rules.low_end.is_none_or(|set| set == end(d)));
        if let Some(winner) = judge::Criterion::of(entrants, data).choice(allowed) {
            self.best = winner.clone();
        }
        if end(&self.best) != now && self.contests < MOST_CONTESTS {
            return self.grow();
        }
        let is_set = self.rules.low_end.is_some();
        let decision = decide(&self.best, entrants, is_set, data, *scale);
        self.decision = Some(decision);
        self.state = State::Merging(Box::new(Merging::new(self.best.clone())));
    }

    fn refine(&mut self) {
        self.points.spread_out(&self.best);
        self.best.resume(FINE, &self.points.data);
        self.state = State::Refining;
    }
}

/// The settings' rules, in this scale.
fn rules(settings: &Settings, scale: Scale) -> Rules {
    let held = |wish: Wish, factor: f64| match wish {
        Wish::Held(value) => Wish::Held(value * factor),
        other => other,
    };
    Rules {
        delay: held(settings.delay, scale.omega),
        lag: held(settings.lag, 1.0 / scale.omega),
        ..Rules::of(settings)
    }
}

/// The start that is given, or a search for one.
fn beginning(
    settings: &Settings,
    rules: Rules,
    scale: Scale,
    data: &Data,
) -> Result<(Descent, State), FitError> {
    if let Some(start) = &settings.start {
        check_points(&start.model, &start.free, data.count())?;
        let model = scale.inward(&start.model);
        let best = Descent::new(model, start.free.clone(), Limits::of(data), data);
        let placing = Placing::new(&start.model, &start.free);
        return Ok((best, State::Placing(Box::new(placing))));
    }
    if data.count() < LEAST_POINTS {
        return Err(FitError::Points {
            points: data.count(),
            needed: LEAST_POINTS,
            parameters: LEAST_UNKNOWNS,
        });
    }
    let search = Search::new(data.thinned(SEARCHED), rules);
    let best = search.plain(Limits::narrow(data), data);
    Ok((best, State::Searching(Box::new(search))))
}
