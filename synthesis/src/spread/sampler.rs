//! Draws and reads ranges of boards of a path: what came of one range never hangs on another.

use std::ops::Range;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::band::{BLOCK, Block, Counts, Rows, Sweep};
use super::phase::PhaseAt;
use super::reader::Reader;
use super::team::Draw;
use super::{Draws, Population, RunStage, RunView};
use crate::circuit::Program;
use crate::stages::{Figure, Model};

/// Bands are of the first boards, so many at most: their quantiles are then known to a hundredth of the band's
/// width, and a million boards take a third of the time.
pub const BAND_BOARDS: u32 = 100 * 1024;

/// Limits that a board misses, a bit each; 0 is a good board.
pub type Misses = u32;

/// What was read of a range of boards; bands are kept back ([`Sampler::hand_in`]).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Batch {
    /// `figures[figure][board]` of the stage in view, the phase behind them.
    pub figures: Vec<Vec<f64>>,
    /// The limits that each board's stage in view misses.
    pub missed: Vec<Misses>,
    /// Boards on which every stage holds its limits.
    pub passed: u32,
    /// The same of each stage alone.
    pub passed_by: Vec<u32>,
    /// Boards that hold each limit of the stage in view.
    pub held: Vec<u32>,
}

impl Batch {
    /// Adds the batch that comes next.
    pub(super) fn join(&mut self, next: Batch) {
        for (own, more) in self.figures.iter_mut().zip(&next.figures) {
            own.extend_from_slice(more);
        }
        self.missed.extend_from_slice(&next.missed);
        self.passed += next.passed;
        let counts = self.passed_by.iter_mut().chain(&mut self.held);
        let more = next.passed_by.iter().chain(&next.held);
        counts.zip(more).for_each(|(own, more)| *own += more);
    }

    /// Whether it is one of so many boards, and goes with another.
    pub(super) fn is_of(&self, boards: usize, other: &Batch) -> bool {
        self.missed.len() == boards
            && self.figures.len() == other.figures.len()
            && self.figures.iter().all(|values| values.len() == boards)
            && self.passed_by.len() == other.passed_by.len()
            && self.held.len() == other.held.len()
    }
}

/// Draws boards of a path, reads their figures and counts their bands.
#[derive(Clone)]
pub struct Sampler {
    draws: Draws,
    lines: Vec<Line>,
    /// The stage in view, and where its phase is told.
    stage: usize,
    phase: PhaseAt,
    /// Of the stage in view, and of the whole path where that is more.
    sweeps: Vec<Sweep>,
    numbers: Vec<f64>,
}

/// A stage's own part.
#[derive(Clone)]
struct Line {
    /// What its program takes, among all numbers of a board.
    inputs: Range<usize>,
    /// What boards are judged by: position of the figure, and its limits.
    limits: Vec<(usize, Figure)>,
    nominal: Vec<f64>,
    block: Block,
    reader: Reader,
}

impl Sampler {
    /// For a path of stages.
    pub fn new(stages: &[RunStage], population: Population, seed: u64, view: &RunView) -> Sampler {
        let mut first = 0;
        let line = |stage: &RunStage| {
            let inputs = first..first + stage.model.program.inputs();
            first = inputs.end;
            let all = stage.model.yardstick.figures().iter().cloned().enumerate();
            Line {
                inputs,
                limits: all.filter(|(_, f)| f.is_limited()).collect(),
                nominal: stage.nominal.clone(),
                block: Block::new(&stage.model.program),
                reader: Reader::new(stage.model),
            }
        };
        Sampler {
            draws: Draws::new(population, seed),
            lines: stages.iter().map(line).collect(),
            stage: view.stage,
            phase: PhaseAt::new(view.phase_at, stages[view.stage].reference),
            sweeps: sweeps(stages, view),
            numbers: Vec::new(),
        }
    }

    /// Draws one block.
    fn block(&mut self, models: &[&Model], first: u32, count: usize, batch: &mut Batch) {
        let stride = self.lines.last().map_or(0, |line| line.inputs.end);
        self.numbers.resize(count * stride, 0.0);
        self.draws.boards(u64::from(first), &mut self.numbers);
        let mut good = [true; BLOCK];
        for (index, (line, model)) in self.lines.iter_mut().zip(models).enumerate() {
            let is_seen = index == self.stage;
            let keep = is_seen.then_some((&mut batch.figures, self.phase));
            let rows = Rows {
                numbers: &self.numbers,
                stride,
                first: line.inputs.start,
            };
            let missed = line.run(model, rows, keep);
            let missed = &missed[..count];
            for (good, missed) in good.iter_mut().zip(missed) {
                *good &= *missed == 0;
            }
            batch.passed_by[index] += missed.iter().filter(|m| **m == 0).count() as u32;
            if is_seen {
                batch.missed.extend_from_slice(missed);
                for (at, held) in batch.held.iter_mut().enumerate() {
                    *held += missed.iter().filter(|m| **m & 1 << at == 0).count() as u32;
                }
            }
        }
        batch.passed += good[..count].iter().filter(|&&g| g).count() as u32;
        if first < BAND_BOARDS {
            let blocks: Vec<&Block> = self.lines.iter().map(|line| &line.block).collect();
            self.sweeps[0].add(&blocks[self.stage..=self.stage], count);
            if let Some(whole) = self.sweeps.get_mut(1) {
                whole.add(&blocks, count);
            }
        }
    }

    /// What it has counted of the bands since it was made or handed in last.
    pub fn hand_in(&mut self) -> Vec<Counts> {
        self.sweeps.iter_mut().map(Sweep::hand_in).collect()
    }

    /// Adds what another sampler of the same boards has counted; whether it was one.
    pub fn take_in(&mut self, counts: &[Counts]) -> bool {
        let pairs = || self.sweeps.iter().zip(counts);
        let fits = counts.len() == self.sweeps.len() && pairs().all(|(own, c)| own.fits(c));
        if fits {
            let pairs = self.sweeps.iter_mut().zip(counts);
            pairs.for_each(|(own, counts)| own.take_in(counts));
        }
        fits
    }

    /// The limited figures of the stage in view, each with its place among all.
    pub fn limits(&self) -> &[(usize, Figure)] {
        &self.lines[self.stage].limits
    }

    /// Bands of the stage in view, and of the whole path where that is more.
    pub fn sweeps(&self) -> &[Sweep] {
        &self.sweeps
    }
}

impl Draw for Sampler {
    type Batch = Batch;
    const GRAIN: u32 = BLOCK as u32;
    const ROUND: usize = 4;
    const MANY: u32 = 16 * BLOCK as u32;

    fn twin(&self) -> Sampler {
        let mut twin = self.clone();
        twin.hand_in();
        twin
    }

    /// The first range that a sampler draws begins at 0: bins are laid where its first block lies.
    fn draw(&mut self, models: &[&Model], boards: Range<u32>) -> Batch {
        let mut batch = Batch {
            figures: vec![Vec::new(); models[self.stage].yardstick.figures().len() + 1],
            passed_by: vec![0; self.lines.len()],
            held: vec![0; self.lines[self.stage].limits.len()],
            ..Batch::default()
        };
        for first in boards.clone().step_by(BLOCK) {
            let count = (boards.end - first).min(BLOCK as u32) as usize;
            self.block(models, first, count, &mut batch);
        }
        batch
    }
}

/// Of the stage in view, and of the whole path where that is more.
fn sweeps(stages: &[RunStage], view: &RunView) -> Vec<Sweep> {
    let programs = stages.iter().map(|stage| {
        let model = stage.model;
        (&model.program, model.scale.omega)
    });
    let programs: Vec<(&Program, f64)> = programs.collect();
    let sweep =
        |programs, nominal: Vec<Complex64>| Sweep::new(programs, &view.frequencies, &nominal, true);
    let [alone, whole] = nominal(stages, view);
    let mut sweeps = vec![sweep(&programs[view.stage..=view.stage], alone)];
    if stages.len() > 1 {
        sweeps.push(sweep(&programs, whole));
    }
    sweeps
}

/// The responses of the board as marked: of the stage in view, and of the whole path.
pub(super) fn nominal(stages: &[RunStage], view: &RunView) -> [Vec<Complex64>; 2] {
    let at = |of: &dyn Fn(f64) -> Complex64| view.frequencies.iter().map(|&f| of(f)).collect();
    [
        at(&|f| stages[view.stage].reference.at(f)),
        at(&|f| stages.iter().map(|stage| stage.reference.at(f)).product()),
    ]
}

/// Where figures are kept, and where the phase is read.
type Keep<'a> = (&'a mut Vec<Vec<f64>>, PhaseAt);

impl Line {
    /// Runs the stage on a block of boards: fills the block, keeps figures, tells which limits each board
    /// misses.
    fn run(&mut self, model: &Model, boards: Rows, mut keep: Option<Keep>) -> [Misses; BLOCK] {
        let count = boards.len();
        let mut missed = [0; BLOCK];
        let quarters = count.div_ceil(4);
        let reader = &mut self.reader;
        for quarter in 0..quarters {
            reader.run(model, boards, quarter);
            let (num, den) = reader.coefficients();
            self.block.put(quarter, num, den);
            for lane in 0..4.min(count - 4 * quarter) {
                let figures = reader.read(model, lane, &self.nominal);
                missed[4 * quarter + lane] = misses(&self.limits, figures);
                let Some((columns, phase)) = &mut keep else {
                    continue;
                };
                for (column, value) in columns.iter_mut().zip(figures) {
                    column.push(*value);
                }
                if let Some(phases) = columns.last_mut() {
                    phases.push(phase.of(reader.response()));
                }
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
