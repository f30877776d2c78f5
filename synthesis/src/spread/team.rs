//! Who draws the boards of one run: this worker's threads, and other workers who are lent ranges.

use std::ops::Range;

use super::pace::Pace;
use super::schedule::{Errand, Hand, Schedule};
use super::side_by_side;
use crate::stages::Model;

/// Draws and reads ranges of boards; what comes of one range hangs on no other.
pub trait Draw: Send {
    /// What is read of a range.
    type Batch: Send;
    /// Ranges begin at multiples of so many boards.
    const GRAIN: u32;
    /// Grains that a thread draws before it is asked whether to go on, where there are several threads.
    const ROUND: usize;
    /// With so many boards further threads are worth their space.
    const MANY: u32;

    /// Another one of the same boards, that has kept nothing back.
    fn twin(&self) -> Self;
    /// `models` are the path's.
    fn draw(&mut self, models: &[&Model], boards: Range<u32>) -> Self::Batch;
}

/// Samplers of one run, a thread each, and what was given to whom.
pub struct Team<S: Draw> {
    samplers: Vec<S>,
    pub(super) schedule: Schedule<S::Batch>,
    pace: Pace,
}

impl<S: Draw> Team<S> {
    pub fn new(first: S) -> Team<S> {
        Team {
            samplers: vec![first],
            schedule: Schedule::new(S::GRAIN),
            pace: Pace::default(),
        }
    }

    pub fn first(&self) -> &S {
        &self.samplers[0]
    }

    pub fn first_mut(&mut self) -> &mut S {
        &mut self.samplers[0]
    }

    /// Sends all threads but the first home.
    pub fn others(&mut self) -> Vec<S> {
        self.samplers.split_off(1)
    }

    /// A slice of work begins.
    pub fn begin(&mut self) {
        self.pace.begin();
    }

    /// What comes next in the order of the boards, where it is there.
    pub fn take(&mut self) -> Option<S::Batch> {
        self.schedule.take()
    }

    /// Draws the next boards before board `end`; whether there were any that nobody was given.
    pub fn draw(&mut self, models: &[&Model], end: u32) -> bool {
        let ranges = self.next_ranges(end);
        if ranges.is_empty() {
            self.pace.wait();
            return false;
        }
        self.pace.count(&ranges);
        let drawn = side_by_side::draw(&mut self.samplers, ranges, |sampler, range| {
            sampler.draw(models, range)
        });
        for (range, batch) in drawn {
            self.schedule.put(range, batch);
        }
        true
    }

    /// The first range alone: what is laid by it is the same for all who draw.
    fn next_ranges(&mut self, end: u32) -> Vec<Range<u32>> {
        let is_begun = self.schedule.is_begun();
        if is_begun && self.samplers.len() == 1 && self.schedule.left(end) > S::MANY {
            let twin = |_| self.samplers[0].twin();
            let twins: Vec<S> = (1..side_by_side::threads()).map(twin).collect();
            self.samplers.extend(twins);
        }
        let count = match self.samplers.len() {
            1 => 1,
            threads => threads * S::ROUND,
        };
        let next = std::iter::from_fn(|| self.schedule.own(end));
        next.take(count).collect()
    }

    /// Whether nothing is left here but to wait for other workers.
    pub fn is_waiting(&self) -> bool {
        self.pace.is_waiting()
    }

    /// Whether so much of `boards` is left that other workers are worth their start.
    pub fn is_long(&self, boards: u32) -> bool {
        self.schedule.is_shared() || self.pace.is_long(self.schedule.left(boards))
    }

    /// Boards before board `end` for another of so many workers, this one among them.
    pub fn lend(&mut self, to: Hand, workers: u32, end: u32) -> Option<Errand> {
        let range = self.schedule.lend(to, self.pace.lot(), workers, end);
        range.map(Errand::Draw)
    }

    /// Takes what another has drawn, who may keep the rest back until it is asked for.
    pub fn give_back(&mut self, from: Hand, range: Range<u32>, batch: S::Batch, keeps_back: bool) {
        self.schedule.give_back(from, range, batch, keeps_back);
    }

    /// Gives up all that is still to come; what others keep back is still owed.
    pub fn stop(&mut self) {
        self.schedule.stop();
    }

    /// Only these of the other workers are still there.
    pub fn keep(&mut self, there: &[Hand]) {
        self.schedule.keep(there);
    }
}
