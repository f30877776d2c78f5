//! The Monte Carlo run over a path, in slices: boards are drawn by any number of workers and taken in in their order.

use std::ops::Range;
use std::task::Poll;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::band::{Band, Counts};
use super::sampler::{Batch, Misses, Sampler, nominal};
use super::schedule::{Errand, Hand};
use super::stop::{SEQUENCE, Stability};
use super::team::Team;
use super::{Population, StopRule};
use crate::response::Transfer;
use crate::stages::{Figure, Model};

/// One stage of the path that is run over.
pub struct RunStage<'a> {
    pub model: &'a Model,
    /// Figures of the board as marked: hints for reading the others.
    pub nominal: Vec<f64>,
    /// The response of the board as marked.
    pub reference: &'a Transfer,
}

/// Where and how boards are looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunView {
    /// The stage whose figures and band are kept.
    pub stage: usize,
    /// Where the bands are wanted, Hz.
    pub frequencies: Vec<f64>,
    /// Where the phase is told, Hz: one figure behind the stage's own.
    pub phase_at: f64,
}

/// Which boards are drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sampling {
    /// Of every number that the stages' programs take, in the path's order.
    pub population: Population,
    pub seed: u64,
    /// How many; at most so many where there is a rule to stop.
    pub boards: u32,
    pub stop: Option<StopRule>,
}

/// A run over boards: [`SpreadRun::advance`] until it says that it is done.
pub struct SpreadRun {
    boards: u32,
    stability: Option<Stability>,
    view: RunView,
    nominal_phases: Vec<Vec<f64>>,
    /// All that was taken in.
    all: Batch,
    /// What its threads counted is the first one's at the end.
    team: Team<Sampler>,
}

impl SpreadRun {
    /// A run over a path of stages.
    pub fn new(stages: Vec<RunStage>, sampling: Sampling, view: RunView) -> SpreadRun {
        let degrees = |h: Vec<Complex64>| h.iter().map(|h| h.arg().to_degrees()).collect();
        let phases = nominal(&stages, &view).map(degrees);
        let shown = &stages[view.stage];
        let figures = shown.model.yardstick.figures().len() + 1;
        let sampler = Sampler::new(&stages, sampling.population, sampling.seed, &view);
        let expected = match sampling.stop {
            Some(_) => sampling.boards.min(4 * SEQUENCE),
            None => sampling.boards,
        } as usize;
        SpreadRun {
            boards: sampling.boards,
            stability: sampling.stop.map(|rule| Stability::new(rule, figures)),
            view,
            nominal_phases: phases.into(),
            all: Batch {
                // Cloned, they would not keep their space, and would move house half-way.
                figures: (0..figures).map(|_| Vec::with_capacity(expected)).collect(),
                missed: Vec::with_capacity(expected),
                passed: 0,
                passed_by: vec![0; stages.len()],
                held: vec![0; sampler.limits().len()],
            },
            team: Team::new(sampler),
        }
    }

    /// Draws boards until all are done, all that is left is with others, or `go_on` says no. `models` are the
    /// path's, as in [`SpreadRun::new`].
    pub fn advance(&mut self, models: &[&Model], go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        self.team.begin();
        loop {
            while !self.is_done()
                && let Some(batch) = self.team.take()
            {
                self.all.join(batch);
                self.look_at_stability();
            }
            if self.is_done() && self.gather() {
                return Poll::Ready(());
            }
            if !go_on() || !self.team.draw(models, self.end()) {
                return Poll::Pending;
            }
        }
    }

    /// How far boards may be drawn: with a rule to stop until it is looked at next.
    fn end(&self) -> u32 {
        if self.is_done() {
            return 0;
        }
        match self.stability {
            Some(_) => self.boards.min((self.drawn() / SEQUENCE + 1) * SEQUENCE),
            None => self.boards,
        }
    }

    /// Whether enough boards are drawn.
    fn is_done(&self) -> bool {
        self.drawn() >= self.boards || self.is_stable() == Some(true)
    }

    /// Has the first sampler hold what all threads counted; whether nothing of the bands is missing then.
    fn gather(&mut self) -> bool {
        for mut other in self.team.others() {
            self.team.first_mut().take_in(&other.hand_in());
        }
        self.team.schedule.is_settled()
    }

    /// Whether figures and yield are as stable as was asked; none without a rule to stop.
    pub fn is_stable(&self) -> Option<bool> {
        self.stability.as_ref().map(Stability::is_reached)
    }

    /// Takes a sequence into the account when its last board is drawn.
    fn look_at_stability(&mut self) {
        let drawn = self.drawn();
        let Some(stability) = &mut self.stability else {
            return;
        };
        if drawn.is_multiple_of(SEQUENCE) {
            let last = (drawn - SEQUENCE) as usize..drawn as usize;
            let missed = &self.all.missed[last.clone()];
            let passed = missed.iter().filter(|m| **m == 0).count();
            let figures = self.all.figures.iter().map(|values| &values[last.clone()]);
            stability.add(figures, passed as u32, SEQUENCE);
        }
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
        if self.is_done() {
            return self.team.schedule.ask(to).then_some(Errand::HandIn);
        }
        self.team.lend(to, workers, self.end())
    }

    /// Takes what another has drawn.
    pub fn give_back(&mut self, from: Hand, range: Range<u32>, batch: Batch) {
        if batch.is_of(range.len(), &self.all) {
            self.team.give_back(from, range, batch, true);
        }
    }

    /// Takes what another has counted of the bands.
    pub fn hand_in(&mut self, from: Hand, counts: &[Counts]) {
        if self.team.schedule.owes(from) && self.team.first_mut().take_in(counts) {
            self.team.schedule.settle(from);
        }
    }

    /// Only these of the others are still there.
    pub fn keep(&mut self, there: &[Hand]) {
        self.team.keep(there);
    }

    /// Boards drawn so far.
    pub fn drawn(&self) -> u32 {
        self.all.missed.len() as u32
    }

    /// Boards on which every stage holds every limit so far.
    pub fn passed(&self) -> u32 {
        self.all.passed
    }

    /// Boards on which a stage holds its limits so far.
    pub fn passed_by(&self, stage: usize) -> u32 {
        self.all.passed_by[stage]
    }

    /// How many stages the path has.
    pub fn stages(&self) -> usize {
        self.all.passed_by.len()
    }

    /// How many boards hold the limits of a figure of the stage in view so far; none when it has no
    /// limits.
    pub fn held(&self, figure: usize) -> Option<u32> {
        let mut limits = self.limits().iter();
        let at = limits.position(|(index, _)| *index == figure);
        at.map(|at| self.all.held[at])
    }

    /// The limits that each board's stage in view misses, in the order of the boards; bits in the order of
    /// [`SpreadRun::limits`].
    pub fn missed(&self) -> &[Misses] {
        &self.all.missed
    }

    /// The limited figures of the stage in view, each with its place among all.
    pub fn limits(&self) -> &[(usize, Figure)] {
        self.team.first().limits()
    }

    pub fn view(&self) -> &RunView {
        &self.view
    }

    /// Values of a figure of the stage in view, in the order of the boards.
    pub fn figure(&self, index: usize) -> &[f64] {
        &self.all.figures[index]
    }

    /// The bands of magnitude (dB) and phase (degrees) of the stage in view.
    pub fn bands(&self) -> (Band, Band) {
        self.bands_of(0)
    }

    /// The bands of the whole path, where it is more than the stage in view.
    pub fn path_bands(&self) -> Option<(Band, Band)> {
        (self.team.first().sweeps().len() > 1).then(|| self.bands_of(1))
    }

    fn bands_of(&self, index: usize) -> (Band, Band) {
        let sweep = &self.team.first().sweeps()[index];
        (sweep.magnitude(), sweep.phase(&self.nominal_phases[index]))
    }
}
