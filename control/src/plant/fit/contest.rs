//! Each low end held against the others.
//!
//! Which one a sweep speaks for is a choice among models of different size. It is made by the Bayesian information
//! criterion (Schwarz, Annals of Statistics 6, 1978; Ljung, "System Identification", 16.4; Pintelon and Schoukens,
//! "System Identification: A Frequency Domain Approach", 11.3; from memory).

use std::task::Poll;

use super::candidates::{candidates, exchanged, freed};
use super::data::Data;
use super::descent::Descent;
use super::growth::Rules;
use super::judge::Criterion;
use super::low_end::LowEnd;
use super::settings::{Free, Wish};
use super::settling::Settling;
use crate::plant::Model;
use num_complex::Complex64;

/// Most steps of a model that is compared.
const MOST_STEPS: u32 = 25;

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
            .flat_map(|end| {
                let lag_may_move = rules.lag == Wish::Found;
                let exchanged = lag_may_move.then(|| exchanged(end, best)).flatten();
                candidates(end, best, data).into_iter().chain(exchanged)
            })
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

    /// A small piece; ready when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        if let Some(attempt) = &mut self.attempt {
            if attempt.step(data).is_ready()
                && let Some(ended) = self.attempt.take()
            {
                self.enter(ended.descent, data);
            }
            return Poll::Pending;
        }
        let Some((model, free)) = self.waiting.pop() else {
            return Poll::Ready(());
        };
        let limits = self.entrants[0].limits;
        let descent = Descent::new(model, free, limits, data).at_most(MOST_STEPS);
        self.attempt = Some(Settling::new(descent));
        Poll::Pending
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
