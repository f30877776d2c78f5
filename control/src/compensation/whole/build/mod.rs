//! Controller, notches and low-pass off the shelf with the real op amp, corrected until the loop holds the wish.
//!
//! Notches are picked first, then the controller for the loop with these very notches in it
//! ([`Attempt`]); then the loop is read with all of them. What real parts leave more of a peak is
//! asked for on top of its level, and what op amps take of the phase on top of the margin, and all is worked
//! out anew, notches and controller together.

use std::task::Poll;

mod built;
mod controller;
mod corrections;
mod joined;
mod plan;

use super::bought::{Bought, Buying};
use super::candidate::Candidate;
use super::ground::Ground;
use super::known::Known;
use super::reading::{Reader, Reading};
use super::replay::Replay;
use super::setting::Setting;
use super::trial::Trial;
use super::tune::{Tuned, tune};
use crate::compensation::shaping::attempt::{Attempt, Made, Tried};
use crate::parts::{OpAmp, Shelf};
pub(super) use built::BuiltWhole;
use controller::attempt;
use corrections::Corrections;
use plan::Plan;

/// What stages are made of.
#[derive(Clone, Debug, PartialEq)]
pub struct WholeShop {
    pub shelf: Shelf,
    pub op_amp: OpAmp,
}

/// Rounds of one candidate at most.
const ROUNDS: u32 = 6;
/// And of one that does not reach the wish with ideal parts either.
const ROUNDS_SHORT: u32 = 3;

/// One candidate on its way to parts.
pub(super) struct Building {
    candidate: Candidate,
    /// Margin to build for, degrees.
    target: f64,
    most_margin: f64,
    corrections: Corrections,
    round: u32,
    /// Of the round before.
    bought: Vec<Bought>,
    state: State,
    best: Option<BuiltWhole>,
}

enum State {
    Tuning(Replay<Known>),
    Buying(Plan, Option<Box<Buying>>),
    Shaping(Plan, Box<Attempt>),
    Reading(Plan, Box<Made>, Box<Reader>),
    Done,
}

/// What a piece of work leads to.
enum Turn {
    On(State),
    /// The time is up.
    Later(State),
    /// Nothing better comes of this candidate.
    End,
}

impl Building {
    pub fn begin(ground: &Ground, candidate: &Candidate) -> Building {
        let wish = &ground.wish;
        let margin = candidate.trial.margin;
        // The most that there is cannot be asked for to the last bit.
        let target = if candidate.reached {
            wish.phase_margin
        } else {
            margin - 0.3
        };
        Building {
            target: if candidate.is_more { margin } else { target },
            most_margin: if candidate.is_more {
                margin.max(wish.phase_margin) + 1.0
            } else {
                wish.phase_margin
            },
            candidate: candidate.clone(),
            corrections: Corrections::none(ground.peaks.len()),
            round: 0,
            bought: Vec::new(),
            state: State::Tuning(Replay::default()),
            best: None,
        }
    }

    /// What real parts took in the end: degrees of phase, and of levels, as a ratio.
    pub fn reserve(&self) -> (f64, f64) {
        self.corrections.reserve()
    }

    /// Works until `go_on` says no; gives what came nearest to the wish, if anything could be built.
    pub fn advance(
        &mut self,
        ground: &Ground,
        shop: &WholeShop,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<Option<BuiltWhole>> {
        loop {
            let turn = match std::mem::replace(&mut self.state, State::Done) {
                State::Tuning(replay) => self.tuned(ground, replay, go_on),
                State::Buying(plan, buying) => self.buy(ground, shop, plan, buying, go_on),
                State::Shaping(plan, attempt) => shape(ground, shop, plan, attempt, go_on),
                State::Reading(plan, made, reader) => self.read(ground, plan, made, reader),
                State::Done => Turn::End,
            };
            match turn {
                Turn::On(state) => self.state = state,
                Turn::Later(state) => {
                    self.state = state;
                    return Poll::Pending;
                }
                Turn::End => return Poll::Ready(self.best.take()),
            }
            if !go_on() {
                return Poll::Pending;
            }
        }
    }

    /// Controller and notches of ideal parts for what is asked by now.
    fn tuned(
        &self,
        ground: &Ground,
        mut replay: Replay<Known>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn {
        let crossover = ground.wish.crossover;
        let aimed = ground.aimed(crossover, self.target + self.corrections.made_up, 1.0);
        let setting = Setting {
            ground,
            aimed: &aimed,
            form: self.candidate.trial.form,
            way: self.candidate.way,
            tighter: &self.corrections.tighter,
        };
        let trial: Trial = match tune(&setting, &mut replay.run(go_on), true) {
            Err(_) => return Turn::Later(State::Tuning(replay)),
            Ok(Tuned::Reached(trial, _) | Tuned::Short(Some(trial))) => trial,
            Ok(Tuned::Short(None)) => return Turn::End,
        };
        let plan = Plan::of(ground, trial, &self.corrections.passband);
        Turn::On(State::Buying(plan, None))
    }

    /// The stage that is being bought, then the next, then the controller.
    fn buy(
        &self,
        ground: &Ground,
        shop: &WholeShop,
        mut plan: Plan,
        buying: Option<Box<Buying>>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn {
        if let Some(mut buying) = buying {
            match buying.advance(&shop.shelf, go_on) {
                Poll::Pending => return Turn::Later(State::Buying(plan, Some(buying))),
                Poll::Ready(None) => return Turn::End,
                Poll::Ready(Some(new)) => plan.bought.push(new),
            }
        }
        let Some(want) = plan.wants.get(plan.bought.len()) else {
            // What cannot be had is not waited for.
            let margin = self
                .target
                .min(plan.trial.margin - self.corrections.made_up);
            return match attempt(ground, shop, &plan, margin) {
                Some(attempt) => Turn::On(State::Shaping(plan, Box::new(attempt))),
                None => Turn::End,
            };
        };
        if let Some(same) = self.bought.iter().find(|old| old.ask == want.ask) {
            plan.bought.push(same.clone());
            return Turn::On(State::Buying(plan, None));
        }
        let buying = Buying::begin(want.ask.clone(), &shop.shelf, &shop.op_amp);
        Turn::On(State::Buying(plan, Some(Box::new(buying))))
    }

    /// One step of the reading; then it is judged, and the next round begins.
    fn read(
        &mut self,
        ground: &Ground,
        plan: Plan,
        made: Box<Made>,
        mut reader: Box<Reader>,
    ) -> Turn {
        let reading = match reader.step() {
            Poll::Pending => return Turn::On(State::Reading(plan, made, reader)),
            Poll::Ready(Err(_)) => return Turn::End,
            Poll::Ready(Ok(reading)) => reading,
        };
        self.corrections.learn(ground, &plan, &made, &reading);
        self.keep(ground, &plan, &made, reading);
        self.bought = plan.bought;
        self.round += 1;
        let holds = self.best.as_ref().is_some_and(BuiltWhole::holds);
        let rounds = if self.candidate.reached {
            ROUNDS
        } else {
            ROUNDS_SHORT
        };
        if holds || self.round == rounds {
            return Turn::End;
        }
        Turn::On(State::Tuning(Replay::default()))
    }

    /// Keeps what is better.
    fn keep(&mut self, ground: &Ground, plan: &Plan, made: &Made, reading: Reading) {
        let misses = plan.bought.iter().map(|b| b.miss);
        let built = BuiltWhole {
            stages: joined::stages(plan, made, ground.wish.crossover),
            sign: made.sign,
            parts_miss: misses.fold(made.miss, f64::max),
            miss: reading.miss(&ground.wish, self.most_margin),
            most_margin: self.most_margin,
            reading,
        };
        let is_better = (self.best.as_ref()).is_none_or(|best| built.is_better_than(best));
        if is_better {
            self.best = Some(built);
        }
    }
}

/// The controller for what was bought; then the loop is read with all of it.
fn shape(
    ground: &Ground,
    shop: &WholeShop,
    plan: Plan,
    mut attempt: Box<Attempt>,
    go_on: &mut dyn FnMut() -> bool,
) -> Turn {
    let kept = joined::with(&ground.kept, &plan.bought);
    let made = match attempt.advance(&kept, &shop.shelf, go_on) {
        Poll::Pending => return Turn::Later(State::Shaping(plan, attempt)),
        Poll::Ready(Tried::Reached(made) | Tried::Short(Some(made))) => made,
        Poll::Ready(Tried::Short(None)) => return Turn::End,
    };
    match Reader::begin(joined::whole(ground, &plan, &made), &ground.wish) {
        Ok(reader) => Turn::On(State::Reading(plan, Box::new(made), Box::new(reader))),
        Err(_) => Turn::End,
    }
}
