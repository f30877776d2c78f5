//! Reads the figures of one stage's boards, four at a time.

use wide::f64x4;

use super::Rows;
use crate::response::Transfer;
use crate::stages::{Abreast, Model};

/// Space for running a stage's programs on four boards at once and reading them one by one.
#[derive(Clone)]
pub struct Reader {
    abreast: Abreast,
    figures: Vec<f64>,
}

impl Reader {
    pub fn new(model: &Model) -> Reader {
        Reader {
            abreast: Abreast::default(),
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
        for quarter in 0..boards.len().div_ceil(Abreast::LANES) {
            self.run(model, boards, quarter);
            for lane in 0..Abreast::LANES.min(boards.len() - Abreast::LANES * quarter) {
                let board = Abreast::LANES * quarter + lane;
                each(board, self.read(model, lane, nominal));
            }
        }
    }

    /// Runs the programs on boards `4·quarter …`.
    pub(super) fn run(&mut self, model: &Model, boards: Rows, quarter: usize) {
        self.abreast
            .run(model, |lanes| boards.gather(quarter, lanes));
    }

    /// Numerator and denominator of the main program on the four boards.
    pub(super) fn coefficients(&self) -> (&[f64x4], &[f64x4]) {
        self.abreast.main_coefficients()
    }

    /// The figures of the board in one lane; none of them can be read where it oscillates.
    pub(super) fn read(&mut self, model: &Model, lane: usize, nominal: &[f64]) -> &[f64] {
        let seen = self.abreast.see(model, lane);
        match seen.main.is_stable() {
            true => model.yardstick.read(seen, Some(nominal), &mut self.figures),
            false => self.figures.fill(f64::NAN),
        }
        &self.figures
    }

    /// The main response of the board that was read last.
    pub(super) fn response(&self) -> &Transfer {
        self.abreast.last_seen().main
    }
}
