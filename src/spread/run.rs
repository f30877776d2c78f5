//! The Monte Carlo run over a path, in slices.

use std::ops::Range;

use num_complex::Complex64;
use wide::f64x4;

use super::band::{BLOCK, Band, Block, Rows, Sweep};
use super::stop::{SEQUENCE, Stability};
use super::{Draws, Population, StopRule};
use crate::circuit::Program;
use crate::response::Transfer;
use crate::stages::{Figure, Model, Seen};

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
    /// Whether it holds its limits, board by board.
    good: Vec<bool>,
    /// Boards on which every stage holds its limits.
    passed: u32,
}

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
            figures: vec![Vec::with_capacity(expected as usize); figures],
            good: Vec::with_capacity(expected as usize),
            passed: 0,
        }
    }

    /// Draws boards until all are done (true) or until `go_on` says no (false). `models` are the
    /// path's, as in [`SpreadRun::new`].
    pub fn advance(&mut self, models: &[&Model], go_on: &mut dyn FnMut() -> bool) -> bool {
        let mut readers: Vec<Reader> = models.iter().map(|model| Reader::new(model)).collect();
        let inputs = self.lines.last().map_or(0, |line| line.inputs.end);
        let mut boards = vec![0.0; inputs * BLOCK];
        while !self.is_done() {
            if !go_on() {
                return false;
            }
            let count = (self.boards - self.drawn).min(BLOCK as u32) as usize;
            for (offset, board) in boards.chunks_exact_mut(inputs).take(count).enumerate() {
                let number = u64::from(self.drawn) + offset as u64;
                self.draws.board(number, board);
            }
            let mut good = [true; BLOCK];
            for (index, (line, reader)) in self.lines.iter_mut().zip(&mut readers).enumerate() {
                let keep =
                    (index == self.view.stage).then_some((&mut self.figures, self.view.phase_at));
                let rows = Rows {
                    numbers: &boards[..count * inputs],
                    stride: inputs,
                    first: line.inputs.start,
                };
                let held = line.run(models[index], reader, rows, keep);
                for (good, held) in good.iter_mut().zip(held) {
                    *good &= held;
                }
                if index == self.view.stage {
                    self.good.extend_from_slice(&held[..count]);
                }
            }
            self.passed += good[..count].iter().filter(|&&g| g).count() as u32;
            let blocks: Vec<&Block> = self.lines.iter().map(|line| &line.block).collect();
            self.sweeps[0].add(&blocks[self.view.stage..=self.view.stage], count);
            if let Some(whole) = self.sweeps.get_mut(1) {
                whole.add(&blocks, count);
            }
            self.drawn += count as u32;
            self.look_at_stability();
        }
        true
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
            let passed = self.good[last.clone()].iter().filter(|g| **g).count();
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

    /// Whether each board's stage in view holds its limits, in the order of the boards.
    pub fn good(&self) -> &[bool] {
        &self.good
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

/// Space for running a stage's programs on four boards at once and reading them one by one.
struct Reader {
    lanes: Vec<f64x4>,
    registers: Vec<f64x4>,
    /// Coefficients and the transfer function of one lane, for each of the stage's programs.
    seen: Vec<(Vec<f64x4>, Vec<f64x4>)>,
    transfers: Vec<Transfer>,
    figures: Vec<f64>,
}

impl Reader {
    fn new(model: &Model) -> Reader {
        let programs = std::iter::once(&model.program).chain(&model.others);
        let zero = f64x4::splat(0.0);
        let sizes: Vec<(usize, usize)> = programs.map(Program::sizes).collect();
        Reader {
            lanes: vec![zero; model.program.inputs()],
            registers: Vec::new(),
            seen: sizes
                .iter()
                .map(|&(n, d)| (vec![zero; n], vec![zero; d]))
                .collect(),
            transfers: sizes
                .iter()
                .map(|&(n, d)| Transfer {
                    num: vec![0.0; n],
                    den: vec![0.0; d],
                    omega: model.scale.omega,
                })
                .collect(),
            figures: vec![0.0; model.yardstick.figures().len()],
        }
    }

    fn run(&mut self, model: &Model) {
        let programs = std::iter::once(&model.program).chain(&model.others);
        for (program, (num, den)) in programs.zip(&mut self.seen) {
            program.run(&self.lanes, model.scale, &mut self.registers, num, den);
        }
    }

    /// Reads the figures of the board in one lane.
    fn read(&mut self, model: &Model, lane: usize, nominal: &[f64]) {
        for ((num, den), transfer) in self.seen.iter().zip(&mut self.transfers) {
            for (to, from) in transfer.num.iter_mut().zip(num) {
                *to = from.as_array()[lane];
            }
            for (to, from) in transfer.den.iter_mut().zip(den) {
                *to = from.as_array()[lane];
            }
        }
        let seen = Seen {
            main: &self.transfers[0],
            others: &self.transfers[1..],
        };
        model.yardstick.read(seen, Some(nominal), &mut self.figures);
    }
}

/// Where figures are kept, and where the phase is read (Hz).
type Keep<'a> = (&'a mut Vec<Vec<f64>>, f64);

impl Line {
    /// Runs the stage on a block of boards: fills the block, keeps figures, tells which boards hold the
    /// limits.
    fn run(
        &mut self,
        model: &Model,
        reader: &mut Reader,
        boards: Rows,
        mut keep: Option<Keep>,
    ) -> [bool; BLOCK] {
        let count = boards.len();
        let mut good = [false; BLOCK];
        let quarters = count.div_ceil(4);
        for quarter in 0..quarters {
            boards.gather(quarter, &mut reader.lanes);
            reader.run(model);
            self.block
                .put(quarter, &reader.seen[0].0, &reader.seen[0].1);
            for lane in 0..4.min(count - 4 * quarter) {
                reader.read(model, lane, &self.nominal);
                good[4 * quarter + lane] = self.judge(&reader.figures);
                if let Some((columns, phase_at)) = &mut keep {
                    let phase = reader.transfers[0].phase_deg(*phase_at);
                    let values = reader.figures.iter().copied().chain([phase]);
                    for (column, value) in columns.iter_mut().zip(values) {
                        column.push(value);
                    }
                }
            }
        }
        // An odd half of the last lane group repeats the half before it.
        if quarters % 2 == 1 {
            self.block
                .put(quarters, &reader.seen[0].0, &reader.seen[0].1);
        }
        good
    }

    fn judge(&mut self, figures: &[f64]) -> bool {
        let mut good = true;
        for ((index, limit), held) in self.limits.iter().zip(&mut self.held) {
            let holds = limit.holds(figures[*index]);
            *held += u32::from(holds);
            good &= holds;
        }
        self.passed += u32::from(good);
        good
    }
}
