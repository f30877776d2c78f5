//! The loop over boards and plants: every part of every stage and the plant's modes drawn together.

use std::ops::Range;
use std::task::Poll;

use serde::{Deserialize, Serialize};

mod lanes;
mod look;
mod sampler;

pub use sampler::{LoopBatch, LoopSampler};

use super::{OpenLoop, Traced};
use crate::plant::Model;
use crate::response::Transfer;
use crate::spread::{
    Blame, Distribution, Errand, Factor, Hand, Pace, Population, Schedule, Tally, side_by_side,
};
use crate::stages;
use lanes::LANES;

/// How far plants stray from the model, largest relative deviations.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantVariations {
    /// Of each resonance's frequency, each drawn for itself and twins together; residues stay, as masses do.
    pub frequency: f64,
    /// Of each resonance's damping.
    pub damping: f64,
    /// Of the whole plant's gain.
    pub gain: f64,
}

/// What is run over.
#[derive(Clone)]
pub struct LoopSetting<'a> {
    /// The path's stages.
    pub stages: Vec<&'a stages::Model>,
    /// Of every number that their programs take.
    pub population: Population,
    pub plant: &'a Model,
    pub variations: PlantVariations,
    /// How plants lie within that.
    pub distribution: Distribution,
    /// −1 where the summing point adds.
    pub sign: f64,
    /// The band of settling, a fraction of a step's end, as [`super::MotionAsk::settle_band`].
    pub settle_band: f64,
    pub seed: u64,
    pub boards: u32,
}

/// What is kept of each board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Built {
    pub is_stable: bool,
    /// The smallest phase margin by size, degrees; NaN without a crossover.
    pub phase_margin: f64,
    /// The gain margin nearest to 1 in either direction, dB by size; infinite where there is none.
    pub gain_margin_db: f64,
    /// M_s.
    pub sensitivity: f64,
    /// Hz; NaN where the gain nowhere falls through 1.
    pub crossover: f64,
    /// Until a step's answer stays within the band round its end, s, as [`super::Figures::settling_time`]; infinite
    /// where the loop is unstable, NaN where it cannot be told.
    pub settling: f64,
}

/// The run: [`LoopRun::advance`] until it says that it is done.
pub struct LoopRun {
    boards: u32,
    /// One for each thread.
    samplers: Vec<LoopSampler>,
    schedule: Schedule<LoopBatch>,
    pace: Pace,
    built: Vec<Built>,
    tally: Tally,
    /// Points of loops that were followed one by one.
    followed: usize,
}

/// Points that are worked out at most for boards whose loops the common grid does not follow, or whose settling is not
/// that of the marked board's poles; a few seconds. Where all
/// boards of a plant are such, some hundred of them tell as much as is worth waiting for.
const MOST_FOLLOWED: usize = 2_000_000;
/// And so many for each board beside that, which is far more than boards cost on an average where a few are such.
const USUAL: usize = 100;
/// So many boards are read whatever they cost.
const LEAST_BOARDS: u32 = 100;
/// Fours of boards that a thread draws before it is asked whether to go on, where there are several threads.
const ROUND: usize = 16;
/// With so many boards further threads are worth their space.
const MANY: u32 = 64;

impl LoopRun {
    /// Prepares a run; `nominal` is the loop of the board as marked, and `traced` its whole curve.
    pub fn new(setting: LoopSetting, nominal: &OpenLoop, traced: &[Traced]) -> LoopRun {
        let boards = setting.boards;
        let sampler = LoopSampler::new(setting, nominal, traced);
        LoopRun {
            boards,
            tally: Tally::new(sampler.factor_count(), 0.0),
            samplers: vec![sampler],
            schedule: Schedule::new(LANES as u32),
            pace: Pace::default(),
            built: Vec::with_capacity(boards as usize),
            followed: 0,
        }
    }

    /// Draws and reads loops until all are done, all that is left is with others, or `go_on` says no. `models` are the
    /// path's, as in [`LoopRun::new`]. It is done with fewer boards than were asked for where too many of them have
    /// loops that must be followed one by one.
    pub fn advance(
        &mut self,
        models: &[&stages::Model],
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        self.pace.begin();
        loop {
            while let Some(batch) = self.schedule.take() {
                self.join(&batch);
            }
            if self.is_done() {
                self.samplers.truncate(1);
                return Poll::Ready(());
            }
            if !go_on() {
                return Poll::Pending;
            }
            let ranges = self.next_ranges();
            if ranges.is_empty() {
                self.pace.wait();
                return Poll::Pending;
            }
            self.pace.count(&ranges);
            let drawn = side_by_side::draw(&mut self.samplers, ranges, |sampler, range| {
                sampler.draw(models, range)
            });
            for (range, batch) in drawn {
                self.schedule.put(range, batch);
            }
        }
    }

    /// What is to be drawn here next.
    fn next_ranges(&mut self) -> Vec<Range<u32>> {
        if self.samplers.len() == 1 && self.schedule.left(self.boards) > MANY {
            let threads = side_by_side::threads();
            let first = self.samplers[0].clone();
            self.samplers.resize(threads, first);
        }
        let count = match self.samplers.len() {
            1 => 1,
            threads => threads * ROUND,
        };
        let next = std::iter::from_fn(|| self.schedule.own(self.boards));
        next.take(count).collect()
    }

    /// Takes in what comes next, as far as it is within what may be followed.
    fn join(&mut self, batch: &LoopBatch) {
        let factors = self.samplers[0].factor_count();
        let moved = batch.moved.chunks_exact(factors);
        for ((built, followed), moved) in batch.built.iter().zip(&batch.followed).zip(moved) {
            let most = MOST_FOLLOWED + USUAL * self.built.len();
            let is_looked_at = self.built.len().is_multiple_of(LANES);
            if is_looked_at && self.followed > most && self.drawn() >= LEAST_BOARDS {
                self.boards = self.drawn();
                self.schedule.stop();
                return;
            }
            self.followed += *followed as usize;
            self.tally.add(moved, built.phase_margin);
            self.built.push(*built);
        }
    }

    fn is_done(&self) -> bool {
        self.drawn() >= self.boards
    }

    /// How fast boards are drawn here, and whether others are waited for.
    pub fn pace(&self) -> &Pace {
        &self.pace
    }

    /// Whether so much is left that others are worth their start.
    pub fn is_long(&self) -> bool {
        self.schedule.is_shared() || self.pace.is_long(self.schedule.left(self.boards))
    }

    /// What another of so many workers, this one among them, shall do.
    pub fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        let range = self
            .schedule
            .lend(to, self.pace.lot(), workers, self.boards);
        range.map(Errand::Draw)
    }

    /// Takes what another has drawn.
    pub fn give_back(&mut self, from: Hand, range: Range<u32>, batch: LoopBatch) {
        if batch.is_of(range.len(), self.samplers[0].factor_count()) {
            self.schedule.give_back(from, range, batch, false);
        }
    }

    /// Only these of the others are still there.
    pub fn keep(&mut self, there: &[Hand]) {
        self.schedule.keep(there);
    }

    /// Boards done so far.
    pub fn drawn(&self) -> u32 {
        self.built.len() as u32
    }

    /// What was read, in the order of the boards.
    pub fn built(&self) -> &[Built] {
        &self.built
    }

    /// Each factor's share of the variance of the phase margin, as far as that is linear.
    pub fn blame(&self) -> Vec<Blame> {
        self.tally.ranked()
    }

    /// What strays independently: of the path, then of the plant (its gain, then frequency and damping of each of
    /// [`LoopRun::companies`]), in the order that [`Blame::number`] counts.
    pub fn factors(&self) -> (Vec<Factor>, Vec<Factor>) {
        self.samplers[0].factors()
    }

    /// Places of modes that drift together.
    pub fn companies(&self) -> &[Vec<usize>] {
        self.samplers[0].companies()
    }

    /// The path's transfer functions and the plant of one board.
    pub fn board(&mut self, models: &[&stages::Model], number: u32) -> (Vec<Transfer>, Model) {
        let drawn = self.samplers[0].board(u64::from(number));
        let mut first = 0;
        let transfers = models.iter().map(|model| {
            let inputs = &drawn.parts[first..first + model.program.inputs()];
            first += inputs.len();
            model.program.transfer(inputs, model.scale)
        });
        (transfers.collect(), drawn.plant)
    }
}
