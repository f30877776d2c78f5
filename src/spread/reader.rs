//! Reads the figures of one stage's boards, four at a time.

use wide::f64x4;

use super::Rows;
use crate::circuit::Program;
use crate::response::Transfer;
use crate::stages::{Model, Seen};

/// Boards that stand side by side.
pub(super) const LANES: usize = 4;

/// Space for running a stage's programs on four boards at once and reading them one by one.
pub struct Reader {
    lanes: Vec<f64x4>,
    registers: Vec<f64x4>,
    /// Coefficients of the four boards, for each of the stage's programs.
    seen: Vec<(Vec<f64x4>, Vec<f64x4>)>,
    /// Transfer functions of the board that was read last.
    transfers: Vec<Transfer>,
    figures: Vec<f64>,
}

impl Reader {
    pub fn new(model: &Model) -> Reader {
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

    /// Reads boards in their order: `each` is told a board's place and its figures. `nominal` are those of
    /// the board as marked, as hints.
    pub fn each(
        &mut self,
        model: &Model,
        boards: Rows,
        nominal: &[f64],
        mut each: impl FnMut(usize, &[f64]),
    ) {
        for quarter in 0..boards.len().div_ceil(LANES) {
            self.run(model, boards, quarter);
            for lane in 0..LANES.min(boards.len() - LANES * quarter) {
                each(LANES * quarter + lane, self.read(model, lane, nominal));
            }
        }
    }

    /// Runs the programs on boards `4·quarter …`.
    pub(super) fn run(&mut self, model: &Model, boards: Rows, quarter: usize) {
        boards.gather(quarter, &mut self.lanes);
        let programs = std::iter::once(&model.program).chain(&model.others);
        for (program, (num, den)) in programs.zip(&mut self.seen) {
            program.run(&self.lanes, model.scale, &mut self.registers, num, den);
        }
    }

    /// Numerator and denominator of the main program on the four boards.
    pub(super) fn coefficients(&self) -> (&[f64x4], &[f64x4]) {
        (&self.seen[0].0, &self.seen[0].1)
    }

    /// The figures of the board in one lane.
    pub(super) fn read(&mut self, model: &Model, lane: usize, nominal: &[f64]) -> &[f64] {
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
        &self.figures
    }

    /// The main response of the board that was read last.
    pub(super) fn response(&self) -> &Transfer {
        &self.transfers[0]
    }
}
