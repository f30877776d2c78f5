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
use crate::spread::{Contribution, Distribution, Errand, Factor, Hand, Population, Tally, Team};
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
    team: Team<LoopSampler>,
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

impl LoopRun {
    /// Prepares a run; `nominal` is the loop of the board as marked, and `traced` its whole curve.
    pub fn new(setting: LoopSetting, nominal: &OpenLoop, traced: &[Traced]) -> LoopRun {
        let boards = setting.boards;
        let sampler = LoopSampler::new(setting, nominal, traced);
        LoopRun {
            boards,
            tally: Tally::new(sampler.factor_count(), 0.0),
            team: Team::new(sampler),
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
        self.team.begin();
        loop {
            while let Some(batch) = self.team.take() {
                self.join(&batch);
            }
            if self.is_done() {
                self.team.others();
                return Poll::Ready(());
            }
            if !go_on() || !self.team.draw(models, self.boards) {
                return Poll::Pending;
            }
        }
    }

    /// Takes in what comes next, as far as it is within what may be followed.
    fn join(&mut self, batch: &LoopBatch) {
        let factors = self.team.first().factor_count();
        let moved = batch.moved.chunks_exact(factors);
        for ((built, followed), moved) in batch.built.iter().zip(&batch.followed).zip(moved) {
            let most = MOST_FOLLOWED + USUAL * self.built.len();
            let is_looked_at = self.built.len().is_multiple_of(LANES);
            if is_looked_at && self.followed > most && self.drawn() >= LEAST_BOARDS {
                self.boards = self.drawn();
                self.team.stop();
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

    /// Whether nothing is left here but to wait for other workers.
    pub fn is_waiting(&self) -> bool {
        self.team.is_waiting()
    }

    /// Whether so much is left that others are worth their start.
    pub fn is_long(&self) -> bool {
        self.team.is_long(self.boards)
    }

    /// What another of so many workers, this one among them, shall do.
    pub fn lend(&mut self, to: Hand, workers: u32) -> Option<Errand> {
        self.team.lend(to, workers, self.boards)
    }

    /// Takes what another has drawn.
    pub fn give_back(&mut self, from: Hand, range: Range<u32>, batch: LoopBatch) {
        if batch.is_of(range.len(), self.team.first().factor_count()) {
            self.team.give_back(from, range, batch, false);
        }
    }

    /// Only these of the others are still there.
    pub fn keep(&mut self, there: &[Hand]) {
        self.team.keep(there);
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
    pub fn contributions(&self) -> Vec<Contribution> {
        self.tally.ranked()
    }

    /// What strays independently: of the path, then of the plant (its gain, then frequency and damping of each of
    /// [`LoopRun::companies`]), in the order that [`Contribution::number`] counts.
    pub fn factors(&self) -> (Vec<Factor>, Vec<Factor>) {
        self.team.first().factors()
    }

    /// Places of modes that drift together.
    pub fn companies(&self) -> &[Vec<usize>] {
        self.team.first().companies()
    }

    /// The path's transfer functions and the plant of one board.
    pub fn board(&mut self, models: &[&stages::Model], number: u32) -> (Vec<Transfer>, Model) {
        let drawn = self.team.first_mut().board(u64::from(number));
        let mut first = 0;
        let transfers = models.iter().map(|model| {
            let inputs = &drawn.parts[first..first + model.program.inputs()];
            first += inputs.len();
            model.program.transfer(inputs, model.scale)
        });
        (transfers.collect(), drawn.plant)
    }
}
