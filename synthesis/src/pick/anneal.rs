//! Simulated annealing over the shelf (Kirkpatrick, Gelatt and Vecchi, "Optimization by Simulated Annealing", Science 220,
//! 1983), many sets in parallel: for where descents end in local optima.

use std::task::Poll;

use super::knobs::{Knobs, Places};
use super::lists::Lists;
use crate::numerics::put_in_order;
use crate::random::uniform;
use crate::stages::{Model, Scratch};

/// Sets that are on their way side by side, and how many steps each takes; fewer where there are more than so many
/// knobs, because each step then takes longer.
const CHAINS: usize = 32;
const STEPS: usize = 450;
const STEPS_OF_MANY: usize = 300;
const MANY: usize = 8;
/// The first ones are the best of so many from anywhere, and the given ones.
const SEEN: usize = 640;
/// A set that misses by less, in limits, ends the search: its neighbours hold the limits too.
const ENOUGH: f64 = 0.5;
/// The search also ends when so many times what the last rounds gained would not bring the best set within its limits:
/// no set will hold, and the nearest is known well enough.
const HOPE: f64 = 4.0;
const PATIENCE: usize = 4;
/// After so many steps the worst chains go on from where the best have been.
const ROUND: usize = 50;
/// Misses are compared as ratios, this added to both.
const OFFSET: f64 = 0.01;
/// A set that is worse by a factor of e is taken with probability 1/e² at this warmth.
const WARMEST: f64 = 1.5;
const COLDEST: f64 = 0.003;

pub(super) struct Anneal {
    knobs: Knobs,
    chains: Vec<Chain>,
    step: usize,
    steps: usize,
    /// The least miss after each round.
    rounds: Vec<f64>,
    state: u64,
}

#[derive(Clone)]
struct Chain {
    at: (f64, Places),
    best: (f64, Places),
}

impl Anneal {
    /// Begins with these sets among others; each `round` draws others.
    pub fn new(
        model: &Model,
        lists: &Lists,
        (given, round): (&[Vec<f64>], u32),
        scratch: &mut Scratch,
    ) -> Anneal {
        let knobs = Knobs::new(model, lists);
        let mut state = 5 + 1000 * u64::from(round);
        let mut starts: Vec<Places> = given.iter().map(|set| knobs.places(lists, set)).collect();
        starts.extend((0..SEEN).map(|_| knobs.anywhere(lists, || uniform(&mut state))));
        let unbounded = starts.iter().map(|places| (places, f64::INFINITY));
        let misses = knobs.misses(model, lists, unbounded, scratch);
        let mut all: Vec<(f64, Places)> = misses.into_iter().zip(starts).collect();
        put_in_order(&mut all, |a, b| a.0.total_cmp(&b.0));
        all.truncate(CHAINS);
        let chain = |at: (f64, Places)| Chain {
            best: at.clone(),
            at,
        };
        Anneal {
            step: 0,
            rounds: Vec::new(),
            steps: match knobs.count() {
                0 => 0,
                1..=MANY => STEPS,
                _ => STEPS_OF_MANY,
            },
            knobs,
            chains: all.into_iter().map(chain).collect(),
            state,
        }
    }

    /// Takes one step with each chain; ready when there is none left to take.
    pub fn step(&mut self, model: &Model, lists: &Lists, scratch: &mut Scratch) -> Poll<()> {
        if self.step >= self.steps || self.least() < ENOUGH || self.is_stuck() {
            return Poll::Ready(());
        }
        let left = 1.0 - self.step as f64 / self.steps as f64;
        let state = &mut self.state;
        let moved = (self.chains.iter())
            .map(|chain| (self.knobs).strolled(lists, &chain.at.1, left, || uniform(state)));
        let moved: Vec<Places> = moved.collect();
        let warmth = WARMEST * left * left + COLDEST;
        // A set is taken with probability e^(−2·ln(ratio)/warmth) where it is worse: up to a ratio that is drawn first,
        // so that most sets need not be read to the end.
        let most = self.chains.iter().map(|chain| {
            let ratio = uniform(state).powf(-0.5 * warmth);
            (chain.at.0 + OFFSET) * ratio - OFFSET
        });
        let most: Vec<f64> = most.collect();
        let bounded = moved.iter().zip(most.iter().copied());
        let misses = self.knobs.misses(model, lists, bounded, scratch);
        for (at, places) in moved.into_iter().enumerate() {
            let (chain, miss) = (&mut self.chains[at], misses[at]);
            // Where neither can be read, one is as good as the other.
            if miss <= most[at] {
                chain.at = (miss, places);
                if miss < chain.best.0 {
                    chain.best = chain.at.clone();
                }
            }
        }
        self.step += 1;
        if self.step.is_multiple_of(ROUND) {
            self.begin_again();
            self.rounds.push(self.least());
        }
        Poll::Pending
    }

    fn least(&self) -> f64 {
        let best = self.chains.iter().map(|chain| chain.best.0);
        best.fold(f64::INFINITY, f64::min)
    }

    /// Whether the last rounds gained too little.
    fn is_stuck(&self) -> bool {
        let mut latest = self.rounds.iter().rev();
        let (last, before) = (latest.next(), latest.nth(PATIENCE - 1));
        (last.zip(before)).is_some_and(|(now, then)| now - 1.0 > HOPE * (then - now))
    }

    /// The worst quarter goes on from the best quarter's best.
    fn begin_again(&mut self) {
        put_in_order(&mut self.chains, |a, b| a.best.0.total_cmp(&b.best.0));
        let quarter = self.chains.len() / 4;
        let from = self.chains.len() - quarter;
        for at in 0..quarter {
            self.chains[from + at].at = self.chains[at].best.clone();
        }
    }

    /// The best sets that were come by, no two the same.
    pub fn found(&mut self, lists: &Lists, most: usize) -> Vec<Vec<f64>> {
        put_in_order(&mut self.chains, |a, b| a.best.0.total_cmp(&b.best.0));
        let mut first: Vec<&Places> = Vec::new();
        for chain in &self.chains {
            if first.len() < most && !first.contains(&&chain.best.1) {
                first.push(&chain.best.1);
            }
        }
        let values = |places: &Places| self.knobs.values(lists, places);
        first.into_iter().map(values).collect()
    }
}
