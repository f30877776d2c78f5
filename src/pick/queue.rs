//! Sets of shelf values that wait to be finished, the most promising first.

use std::collections::BTreeMap;

use super::rank::Rank;

/// So many sets are finished at most, best bounds first: where an ask is out of reach, bounds promise
/// what no set can keep and would have every set tried.
const MOST_FINISHED: usize = 1000;

/// A set that waits for its dividers.
pub(super) struct Candidate {
    /// No set from this candidate ranks before this.
    pub bound: Rank,
    /// Which solution it stands round.
    pub solution: usize,
    /// Which neighbours of the exact values it has, as one number.
    pub code: usize,
}

#[derive(Default)]
pub(super) struct Queue {
    /// By the step of their bounds; only the lowest step is ever put in order.
    waiting: BTreeMap<u32, Vec<Candidate>>,
    /// The lowest step's candidates, best last.
    current: Vec<Candidate>,
    taken: usize,
}

impl Queue {
    /// Takes in what stands round one more solution.
    pub fn add(&mut self, listed: Vec<Candidate>) {
        for candidate in listed {
            self.waiting
                .entry(candidate.bound.step)
                .or_default()
                .push(candidate);
        }
        // Steps behind as many candidates as are ever finished are out of sight.
        let last = self.last_step();
        while self
            .waiting
            .last_key_value()
            .is_some_and(|(&step, _)| step > last)
        {
            self.waiting.pop_last();
        }
    }

    /// The last step whose candidates may still be finished.
    pub fn last_step(&self) -> u32 {
        let mut before = 0;
        let full = self.waiting.iter().find(|(_, candidates)| {
            before += candidates.len();
            before >= MOST_FINISHED
        });
        full.map_or(u32::MAX, |(&step, _)| step)
    }

    /// The bound of the next one; none when all are done or enough are.
    pub fn next_bound(&mut self) -> Option<&Rank> {
        if self.taken == MOST_FINISHED {
            return None;
        }
        if self.current.is_empty() {
            let (_, mut lowest) = self.waiting.pop_first()?;
            lowest.sort_by(|a, b| b.bound.order(&a.bound));
            self.current = lowest;
        }
        self.current.last().map(|candidate| &candidate.bound)
    }

    /// Takes the one that [`Queue::next_bound`] told of.
    pub fn take(&mut self) -> Option<Candidate> {
        self.taken += 1;
        self.current.pop()
    }
}
