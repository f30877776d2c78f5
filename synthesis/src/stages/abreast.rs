//! A stage's programs run on four boards at once and seen one by one.

use wide::f64x4;

use super::{Model, Seen};
use crate::response::Transfer;

/// Space for it; it fits itself to a model.
#[derive(Clone, Default)]
pub struct Abreast {
    /// What the programs take, the four boards side by side.
    lanes: Vec<f64x4>,
    registers: Vec<f64x4>,
    /// Coefficients of the four boards, for each of the stage's programs.
    coefficients: Vec<(Vec<f64x4>, Vec<f64x4>)>,
    /// Transfer functions of the board that was seen last.
    transfers: Vec<Transfer>,
    /// What its programs took, where something reads it.
    numbers: Vec<f64>,
}

impl Abreast {
    /// Boards that stand side by side.
    pub const LANES: usize = 4;

    /// Runs the programs on what `fill` puts side by side.
    pub fn run(&mut self, model: &Model, fill: impl FnOnce(&mut [f64x4])) {
        self.lanes.resize(model.program.inputs(), f64x4::ZERO);
        fill(&mut self.lanes);
        let programs = 1 + model.others.len();
        self.coefficients.resize_with(programs, Default::default);
        let programs = std::iter::once(&model.program).chain(&model.others);
        for (program, (num, den)) in programs.zip(&mut self.coefficients) {
            let (n, d) = program.sizes();
            num.resize(n, f64x4::ZERO);
            den.resize(d, f64x4::ZERO);
            program.run(&self.lanes, model.scale, &mut self.registers, num, den);
        }
    }

    /// Runs the programs on boards given by the numbers that they take, four at most; the last one stands in for
    /// those that are missing.
    pub fn run_inputs<'a>(&mut self, model: &Model, boards: impl Iterator<Item = &'a [f64]>) {
        self.run(model, |lanes| {
            for (at, inputs) in boards.enumerate() {
                for (lane, input) in lanes.iter_mut().zip(inputs) {
                    lane.as_mut_array()[at..].fill(*input);
                }
            }
        });
    }

    /// Numerator and denominator of the main program on the four boards.
    pub fn main_coefficients(&self) -> (&[f64x4], &[f64x4]) {
        let (num, den) = &self.coefficients[0];
        (num, den)
    }

    /// The responses of the board in one lane.
    pub fn see(&mut self, model: &Model, lane: usize) -> Seen<'_> {
        let omega = model.scale.omega;
        self.transfers
            .resize_with(self.coefficients.len(), || Transfer::zero(omega));
        for ((num, den), transfer) in self.coefficients.iter().zip(&mut self.transfers) {
            transfer.omega = omega;
            for (to, from) in [(&mut transfer.num, num), (&mut transfer.den, den)] {
                to.clear();
                to.extend(from.iter().map(|lanes| lanes.as_array()[lane]));
            }
        }
        self.numbers.clear();
        if model.yardstick.reads_numbers() {
            let own = self.lanes.iter().map(|lanes| lanes.as_array()[lane]);
            self.numbers.extend(own);
        }
        self.last_seen()
    }

    /// The responses of the board that was seen last.
    pub fn last_seen(&self) -> Seen<'_> {
        Seen {
            main: &self.transfers[0],
            others: &self.transfers[1..],
            numbers: &self.numbers,
        }
    }
}
