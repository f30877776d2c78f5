//! The whole work in slices.

use std::ops::ControlFlow;
use std::task::Poll;

use super::build::{Building, BuiltWhole};
use super::candidate::Candidate;
use super::ground::Ground;
use super::known::Known;
use super::replay::Replay;
use super::search::{Found, Searcher};
use super::{Nearest, Whole, WholeError, WholeLoop, WholeShop, WholeWish, told};

/// Candidates that are built until one holds, at most.
const BUILT: usize = 3;
/// Runners-up that are told.
const TOLD: usize = 6;

/// The loop as a whole while it is worked out; no step takes longer than following the loop's curve or picking
/// one combination of parts.
pub struct WholeWork {
    ground: Ground,
    shop: WholeShop,
    state: State,
}

/// The candidate that came nearest, by its place, with its parts.
type Best = (usize, BuiltWhole);

enum State {
    Looking,
    Searching(Replay<Known>),
    Building(Box<Found>, usize, Box<Building>, Option<Best>),
    /// What would do where ideal parts do and real ones do not; with what those took.
    Nearest(Box<Found>, Option<Best>, (f64, f64), Replay<Known>),
    Done,
}

/// The better of what was built before and the candidate at this place, if anything of it could be built.
fn better(best: Option<Best>, at: usize, built: Option<BuiltWhole>) -> Option<Best> {
    let Some(built) = built else { return best };
    let is_better = best
        .as_ref()
        .is_none_or(|(_, best)| worth(&built) < worth(best));
    if is_better { Some((at, built)) } else { best }
}

impl WholeWork {
    /// Begins with the loop without what is looked for, all other stages in place.
    ///
    /// # Errors
    /// A number out of range, or a loop without a gain.
    pub fn begin(
        of: WholeLoop,
        wish: &WholeWish,
        shop: WholeShop,
    ) -> Result<WholeWork, WholeError> {
        Ok(WholeWork {
            ground: Ground::new(of, wish)?,
            shop,
            state: State::Looking,
        })
    }

    /// Works until there is an answer or `go_on` says no; must not be called again after the answer.
    pub fn advance(&mut self, go_on: &mut dyn FnMut() -> bool) -> Poll<Result<Whole, WholeError>> {
        loop {
            match std::mem::replace(&mut self.state, State::Done) {
                State::Looking => match self.ground.look() {
                    Poll::Ready(Err(error)) => return Poll::Ready(Err(error)),
                    Poll::Pending => self.state = State::Looking,
                    Poll::Ready(Ok(())) => self.state = State::Searching(Replay::default()),
                },
                State::Searching(mut replay) => {
                    let found = self.searcher((0.0, 1.0)).search(&mut replay.run(go_on));
                    let Ok(found) = found else {
                        self.state = State::Searching(replay);
                        return Poll::Pending;
                    };
                    let Some(first) = found.candidates.first() else {
                        return Poll::Ready(Ok(self.answer(&found, None)));
                    };
                    let building = Box::new(Building::begin(&self.ground, first));
                    self.state = State::Building(Box::new(found), 0, building, None);
                }
                State::Building(found, at, mut building, best) => {
                    let Poll::Ready(built) = building.advance(&self.ground, &self.shop, go_on)
                    else {
                        self.state = State::Building(found, at, building, best);
                        return Poll::Pending;
                    };
                    let best = better(best, at, built);
                    match self.after_building(found, at, &building, best) {
                        ControlFlow::Continue(state) => self.state = state,
                        ControlFlow::Break(answer) => return Poll::Ready(Ok(answer)),
                    }
                }
                State::Nearest(mut found, best, reserve, mut replay) => {
                    let searcher = self.searcher(reserve);
                    let first = found.candidates.first();
                    let nearest = searcher.nearest(first, &mut replay.run(go_on));
                    let Ok(nearest) = nearest else {
                        self.state = State::Nearest(found, best, reserve, replay);
                        return Poll::Pending;
                    };
                    found.nearest = Some(Nearest {
                        phase_margin: None,
                        ..nearest
                    });
                    return Poll::Ready(Ok(self.answer(&found, best)));
                }
                State::Done => return Poll::Ready(Err(WholeError::NoGain)),
            }
            if !go_on() {
                return Poll::Pending;
            }
        }
    }

    /// The next candidate, or what would do; else the answer.
    fn after_building(
        &self,
        mut found: Box<Found>,
        at: usize,
        building: &Building,
        best: Option<Best>,
    ) -> ControlFlow<Whole, State> {
        let holds = best.as_ref().is_some_and(|(_, best)| best.holds());
        found.candidates[at].failed = !holds;
        let next = found.candidates.get(at + 1).filter(|next| {
            // And another one where nothing could be built at all.
            let is_worth = (next.reached && next.is_sound) || best.is_none();
            !holds && at + 1 < BUILT && is_worth
        });
        if let Some(next) = next {
            let building = Box::new(Building::begin(&self.ground, next));
            return ControlFlow::Continue(State::Building(found, at + 1, building, best));
        }
        if holds || found.nearest.is_some() {
            return ControlFlow::Break(self.answer(&found, best));
        }
        let reserve = building.reserve();
        ControlFlow::Continue(State::Nearest(found, best, reserve, Replay::default()))
    }

    fn searcher(&self, reserve: (f64, f64)) -> Searcher<'_> {
        Searcher {
            ground: &self.ground,
            gain_bandwidth: self.shop.op_amp.gain_bandwidth,
            reserve,
        }
    }

    fn answer(&self, found: &Found, built: Option<Best>) -> Whole {
        let own = built.as_ref().map(|(at, _)| &found.candidates[*at]);
        let others = found.candidates.iter().enumerate();
        let others = others.filter(|(at, _)| built.as_ref().is_none_or(|(own, _)| own != at));
        let form = own.map(|own: &Candidate| own.trial.form);
        let mut whole = Whole {
            stages: Vec::new(),
            adds: false,
            form,
            why: form.map_or_else(String::new, |form| self.searcher((0.0, 1.0)).why(form)),
            holds: false,
            reading: None,
            most_margin: self.ground.wish.phase_margin,
            ideal_margin: own.map(|own| own.trial.margin),
            noise_gain_db: own.map(|own| super::reading::decibels(own.noise_gain)),
            nearest: found.nearest,
            below_first: found.below_first,
            runners_up: others
                .map(|(_, other)| other.runner_up())
                .take(TOLD)
                .collect(),
            told: Vec::new(),
        };
        if let Some((_, built)) = built {
            whole.holds = built.holds();
            whole.adds = built.sign < 0.0;
            whole.stages = built.stages;
            whole.reading = Some(built.reading);
            whole.most_margin = built.most_margin;
        }
        whole.told = told::told(&whole, &self.ground, &self.shop, found);
        whole
    }
}

/// Lower is better.
fn worth(built: &BuiltWhole) -> f64 {
    built.miss.max(built.parts_miss)
}
