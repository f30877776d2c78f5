//! Boards in, figures out: what corners and contributions ask of a stage, or of a formula.

use super::Rows;
use super::phase::PhaseAt;
use super::reader::Reader;
use crate::stages::{Abreast, Model};

/// Something whose boards have figures.
pub trait Figures {
    /// How many figures a board has.
    fn count(&self) -> usize;

    /// Reads boards, row after row in `boards`: `each` is told a board's place and its figures.
    fn read(&mut self, boards: &[f64], each: &mut dyn FnMut(usize, &[f64]));
}

/// A stage's figures, and its phase at one frequency behind them, as the run over boards keeps them.
pub struct StageFigures<'a> {
    model: &'a Model,
    reader: Reader,
    /// Of the board as marked: hints for reading the others.
    nominal: &'a [f64],
    phase: PhaseAt,
    figures: Vec<f64>,
}

impl<'a> StageFigures<'a> {
    pub fn new(model: &'a Model, nominal: &'a [f64], phase: PhaseAt) -> StageFigures<'a> {
        StageFigures {
            reader: Reader::new(model),
            figures: vec![0.0; model.yardstick.figures().len() + 1],
            model,
            nominal,
            phase,
        }
    }
}

impl Figures for StageFigures<'_> {
    fn count(&self) -> usize {
        self.figures.len()
    }

    fn read(&mut self, boards: &[f64], each: &mut dyn FnMut(usize, &[f64])) {
        let rows = Rows {
            numbers: boards,
            stride: self.model.program.inputs(),
            first: 0,
        };
        for quarter in 0..rows.len().div_ceil(Abreast::LANES) {
            self.reader.run(self.model, rows, quarter);
            for lane in 0..Abreast::LANES.min(rows.len() - Abreast::LANES * quarter) {
                let read = self.reader.read(self.model, lane, self.nominal);
                self.figures[..read.len()].copy_from_slice(read);
                if let Some(phase) = self.figures.last_mut() {
                    *phase = self.phase.of(self.reader.response());
                }
                each(Abreast::LANES * quarter + lane, &self.figures);
            }
        }
    }
}

/// A formula of a board's numbers.
pub struct Formula<F> {
    /// How many numbers a board has.
    pub numbers: usize,
    /// Written by the formula.
    pub figures: Vec<f64>,
    pub of: F,
}

impl<F: FnMut(&[f64], &mut [f64])> Figures for Formula<F> {
    fn count(&self) -> usize {
        self.figures.len()
    }

    fn read(&mut self, boards: &[f64], each: &mut dyn FnMut(usize, &[f64])) {
        for (place, board) in boards.chunks_exact(self.numbers).enumerate() {
            (self.of)(board, &mut self.figures);
            each(place, &self.figures);
        }
    }
}
