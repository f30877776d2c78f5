//! The Monte Carlo run over a path, in slices.

use std::ops::Range;
use std::task::Poll;

use num_complex::Complex64;

use super::band::{BLOCK, Band, Block, Rows, Sweep};
use super::reader::Reader;
use super::stop::{SEQUENCE, Stability};
use super::{Draws, Population, StopRule};
use crate::circuit::Program;
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
pub struct RunView {
    /// The stage whose figures and band are kept.
    pub stage: usize,
    /// Where the bands are wanted, Hz.
    pub frequencies: Vec<f64>,
    /// Where the phase is told, Hz: one figure behind the stage's own.
    pub phase_at: f64,
}

/// Which boards are drawn.
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
    draws: Draws,
    boards: u32,
    drawn: u32,
    stability: Option<Stability>,
    lines: Vec<Line>,
    view: RunView,
    /// Of the stage in view, and of the whole path where that is more.
    sweeps: Vec<Sweep>,
    nominal_phases: Vec<Vec<f64>>,
    /// `figures[figure][board]` of the stage in view.
    figures: Vec<Vec<f64>>,
    /// Which of its limits it misses, board by board.
    missed: Vec<Misses>,
    /// Boards on which every stage holds its limits.
    passed: u32,
}

/// Bands are of the first boards, so many at most: their quantiles are then known to a hundredth of the band's
/// width, and a million boards take a third of the time.
pub const BAND_BOARDS: u32 = 100 * 1024;

/// Limits that a board misses, a bit each; 0 is a good board.
pub type Misses = u32;

/// A stage's own part of the run.
struct Line {
    /// What its program takes, among all numbers of a board.
    inputs: Range<usize>,
    /// What boards are judged by: position of the figure, and its limits.
    limits: Vec<(usize, Figure)>,
    nominal: Vec<f64>,
    block: Block,
    passed: u32,
    held: Vec<u32>,
}

impl SpreadRun {
    /// A run over a path of stages.
    pub fn new(stages: Vec<RunStage>, sampling: Sampling, view: RunView) -> SpreadRun {
        let mut first = 0;
        let mut lines = Vec::new();
        let at = |of: &dyn Fn(f64) -> Complex64| -> Vec<Complex64> {
            view.frequencies.iter().map(|&f| of(f)).collect()
        };
        let shown = &stages[view.stage];
        let scaled = |model: &'_ Model| model.scale.omega;
        let mut sweeps = Vec::new();
        let mut nominal_phases = Vec::new();
        let alone = at(&|f| shown.reference.at(f));
        let whole = at(&|f| stages.iter().map(|stage| stage.reference.at(f)).product());
        let programs: Vec<(&Program, f64)> = stages
            .iter()
            .map(|stage| (&stage.model.program, scaled(stage.model)))
            .collect();
        let degrees = |h: &[Complex64]| h.iter().map(|h| h.arg().to_degrees()).collect();
        sweeps.push(Sweep::new(
            &programs[view.stage..=view.stage],
            &view.frequencies,
            &alone,
            true,
        ));
        nominal_phases.push(degrees(&alone));
        if stages.len() > 1 {
            sweeps.push(Sweep::new(&programs, &view.frequencies, &whole, true));
            nominal_phases.push(degrees(&whole));
        }
        let figures = shown.model.yardstick.figures().len() + 1;
        for stage in stages {
            let inputs = first..first + stage.model.program.inputs();
            first = inputs.end;
            let all = stage.model.yardstick.figures().iter().cloned().enumerate();
            let limits: Vec<(usize, Figure)> = all.filter(|(_, f)| f.is_limited()).collect();
            lines.push(Line {
                inputs,
                held: vec![0; limits.len()],
                limits,
                nominal: stage.nominal,
                block: Block::new(&stage.model.program),
                passed: 0,
            });
        }
        let expected = match sampling.stop {
            Some(_) => sampling.boards.min(4 * SEQUENCE),
            None => sampling.boards,
        };
        SpreadRun {
            draws: Draws::new(sampling.population, sampling.seed),
            boards: sampling.boards,
            drawn: 0,
            stability: sampling.stop.map(|rule| Stability::new(rule, figures)),
            lines,
            view,
            sweeps,
            nominal_phases,
            // Cloned, they would not keep their space, and would move house half-way.
            figures: (0..figures)
                .map(|_| Vec::with_capacity(expected as usize))
                .collect(),
            missed: Vec::with_capacity(expected as usize),
            passed: 0,
        }
    }

    /// Draws boards until all are done or until `go_on` says no. `models` are the
    /// path's, as in [`SpreadRun::new`].
    pub fn advance(&mut self, models: &[&Model], go_on: &mut dyn FnMut() -> bool) -> Poll<()> {
        let mut readers: Vec<Reader> = models.iter().map(|model| Reader::new(model)).collect();
        let inputs = self.lines.last().map_or(0, |line| line.inputs.end);
        let mut boards = vec![0.0; inputs * BLOCK];
        while !self.is_done() {
            if !go_on() {
                return Poll::Pending;
            }
            let count = (self.boards - self.drawn).min(BLOCK as u32) as usize;
            self.draws
                .boards(u64::from(self.drawn), &mut boards[..count * inputs]);
            let mut good = [true; BLOCK];
            for (index, (line, reader)) in self.lines.iter_mut().zip(&mut readers).enumerate() {
                let keep =
                    (index == self.view.stage).then_some((&mut self.figures, self.view.phase_at));
                let rows = Rows {
                    numbers: &boards[..count * inputs],
                    stride: inputs,
                    first: line.inputs.start,
                };
                let missed = line.run(models[index], reader, rows, keep);
                for (good, missed) in good.iter_mut().zip(missed) {
                    *good &= missed == 0;
                }
                if index == self.view.stage {
                    self.missed.extend_from_slice(&missed[..count]);
                }
            }
            self.passed += good[..count].iter().filter(|&&g| g).count() as u32;
            if self.drawn < BAND_BOARDS {
                let blocks: Vec<&Block> = self.lines.iter().map(|line| &line.block).collect();
                self.sweeps[0].add(&blocks[self.view.stage..=self.view.stage], count);
                if let Some(whole) = self.sweeps.get_mut(1) {
                    whole.add(&blocks, count);
                }
            }
            self.drawn += count as u32;
            self.look_at_stability();
        }
        Poll::Ready(())
    }

    /// Whether enough boards are drawn.
    fn is_done(&self) -> bool {
        self.drawn >= self.boards || self.is_stable() == Some(true)
    }

    /// Whether figures and yield are as stable as was asked; none without a rule to stop.
    pub fn is_stable(&self) -> Option<bool> {
        self.stability.as_ref().map(Stability::is_reached)
    }

    /// Takes a sequence into the account when its last board is drawn.
    fn look_at_stability(&mut self) {
        let Some(stability) = &mut self.stability else {
            return;
        };
        if self.drawn.is_multiple_of(SEQUENCE) {
            let last = (self.drawn - SEQUENCE) as usize..self.drawn as usize;
            let passed = self.missed[last.clone()]
                .iter()
                .filter(|m| **m == 0)
                .count();
            let figures = self.figures.iter().map(|values| &values[last.clone()]);
            stability.add(figures, passed as u32, SEQUENCE);
        }
    }

    /// Boards drawn so far.
    pub fn drawn(&self) -> u32 {
        self.drawn
    }

    /// Boards on which every stage holds every limit so far.
    pub fn passed(&self) -> u32 {
        self.passed
    }

    /// Boards on which a stage holds its limits so far.
    pub fn passed_by(&self, stage: usize) -> u32 {
        self.lines[stage].passed
    }

    /// How many stages the path has.
    pub fn stages(&self) -> usize {
        self.lines.len()
    }

    /// How many boards hold the limits of a figure of the stage in view so far; none when it has no
    /// limits.
    pub fn held(&self, figure: usize) -> Option<u32> {
        let line = &self.lines[self.view.stage];
        let at = line.limits.iter().position(|(index, _)| *index == figure);
        at.map(|at| line.held[at])
    }

    /// The limits that each board's stage in view misses, in the order of the boards; bits in the order of
    /// [`SpreadRun::limits`].
    pub fn missed(&self) -> &[Misses] {
        &self.missed
    }

    /// The limited figures of the stage in view, each with its place among all.
    pub fn limits(&self) -> &[(usize, Figure)] {
        &self.lines[self.view.stage].limits
    }

    pub fn view(&self) -> &RunView {
        &self.view
    }

    /// Values of a figure of the stage in view, in the order of the boards.
    pub fn figure(&self, index: usize) -> &[f64] {
        &self.figures[index]
    }

    /// The bands of magnitude (dB) and phase (degrees) of the stage in view.
    pub fn bands(&self) -> (Band, Band) {
        self.bands_of(0)
    }

    /// The bands of the whole path, where it is more than the stage in view.
    pub fn path_bands(&self) -> Option<(Band, Band)> {
        (self.sweeps.len() > 1).then(|| self.bands_of(1))
    }

    fn bands_of(&self, index: usize) -> (Band, Band) {
        let sweep = &self.sweeps[index];
        (sweep.magnitude(), sweep.phase(&self.nominal_phases[index]))
    }
}

/// Where figures are kept, and where the phase is read (Hz).
type Keep<'a> = (&'a mut Vec<Vec<f64>>, f64);

impl Line {
    /// Runs the stage on a block of boards: fills the block, keeps figures, tells which limits each board
    /// misses.
    fn run(
        &mut self,
        model: &Model,
        reader: &mut Reader,
        boards: Rows,
        mut keep: Option<Keep>,
    ) -> [Misses; BLOCK] {
        let count = boards.len();
        let mut missed = [0; BLOCK];
        let quarters = count.div_ceil(4);
        for quarter in 0..quarters {
            reader.run(model, boards, quarter);
            let (num, den) = reader.coefficients();
            self.block.put(quarter, num, den);
            for lane in 0..4.min(count - 4 * quarter) {
                let figures = reader.read(model, lane, &self.nominal);
                let misses = misses(&self.limits, figures);
                if let Some((columns, _)) = &mut keep {
                    for (column, value) in columns.iter_mut().zip(figures) {
                        column.push(*value);
                    }
                }
                if let Some((columns, phase_at)) = &mut keep
                    && let Some(phases) = columns.last_mut()
                {
                    phases.push(reader.response().phase_deg(*phase_at));
                }
                for (at, held) in self.held.iter_mut().enumerate() {
                    *held += u32::from(misses & 1 << at == 0);
                }
                self.passed += u32::from(misses == 0);
                missed[4 * quarter + lane] = misses;
            }
        }
        // An odd half of the last lane group repeats the half before it.
        if quarters % 2 == 1 {
            let (num, den) = reader.coefficients();
            self.block.put(quarters, num, den);
        }
        missed
    }
}

/// The limits that a board's figures miss: a bit each.
fn misses(limits: &[(usize, Figure)], figures: &[f64]) -> Misses {
    let missed = |(at, (figure, limit)): (usize, &(usize, Figure))| {
        Misses::from(!limit.holds(figures[*figure])) << at
    };
    limits.iter().enumerate().map(missed).sum()
}
