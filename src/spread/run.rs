//! The Monte Carlo run, in slices.

use num_complex::Complex64;
use wide::f64x4;

use super::band::{BLOCK, Band, Block, Sweep, gather};
use super::{Draws, Stray};
use crate::response::Transfer;
use crate::stages::{Limit, Model};

/// A run over boards: [`SpreadRun::advance`] until it says that it is done.
pub struct SpreadRun {
    draws: Draws,
    boards: u32,
    drawn: u32,
    limits: Vec<Limit>,
    nominal: Vec<f64>,
    frequencies: Vec<f64>,
    nominal_phase: Vec<f64>,
    phase_at: f64,
    sweep: Sweep,
    block: Block,
    /// `figures[figure][board]`
    figures: Vec<Vec<f64>>,
    passed: u32,
    held: Vec<u32>,
}

impl SpreadRun {
    /// `nominal` are the figures of the board as marked (hints), `frequencies` where the band is wanted;
    /// `phase_at` (Hz) adds one figure behind the stage's own, the phase there.
    pub fn new(
        model: &Model,
        strays: Vec<Stray>,
        spread: &crate::design::SpreadDesign,
        nominal: &[f64],
        frequencies: Vec<f64>,
        phase_at: f64,
        reference: &Transfer,
    ) -> SpreadRun {
        let limits = model.stage.limits(&model.ask);
        let directions: Vec<Complex64> = frequencies.iter().map(|&f| reference.at(f)).collect();
        SpreadRun {
            draws: Draws::new(strays, spread.law, spread.temperature_span, spread.seed),
            boards: spread.boards,
            drawn: 0,
            held: vec![0; limits.len()],
            limits,
            nominal: nominal.to_vec(),
            nominal_phase: frequencies
                .iter()
                .map(|&f| reference.phase_deg(f))
                .collect(),
            sweep: Sweep::new(
                &model.program,
                model.scale.omega,
                &frequencies,
                &directions,
                true,
            ),
            frequencies,
            phase_at,
            block: Block::new(&model.program),
            figures: vec![
                Vec::with_capacity(spread.boards as usize);
                model.stage.figures().len() + 1
            ],
            passed: 0,
        }
    }

    /// Draws boards until all are done (true) or until `go_on` says no (false).
    pub fn advance(&mut self, model: &Model, go_on: &mut dyn FnMut() -> bool) -> bool {
        let (n, d) = model.program.sizes();
        let (mut num, mut den) = (vec![f64x4::splat(0.0); n], vec![f64x4::splat(0.0); d]);
        let mut lanes = vec![f64x4::splat(0.0); model.program.inputs()];
        let mut registers = Vec::new();
        let mut inputs: Vec<Vec<f64>> = Vec::new();
        let mut values = vec![0.0; model.netlist.parts().len()];
        let mut transfer = Transfer::zero(model.scale.omega);
        transfer.num.resize(n, 0.0);
        transfer.den.resize(d, 0.0);
        let own = model.stage.figures().len();
        let mut figures = vec![0.0; own + 1];
        while self.drawn < self.boards {
            if !go_on() {
                return false;
            }
            let count = (self.boards - self.drawn).min(BLOCK as u32) as usize;
            inputs.resize(count, Vec::new());
            for (offset, board) in inputs.iter_mut().enumerate() {
                self.draws
                    .board(u64::from(self.drawn) + offset as u64, &mut values);
                model.inputs(&values, board);
            }
            let quarters = count.div_ceil(4);
            for quarter in 0..quarters {
                gather(&inputs, quarter, &mut lanes);
                model
                    .program
                    .run(&lanes, model.scale, &mut registers, &mut num, &mut den);
                self.block.put(quarter, &num, &den);
                for lane in 0..4.min(count - 4 * quarter) {
                    for (to, from) in transfer.num.iter_mut().zip(&num) {
                        *to = from.as_array()[lane];
                    }
                    for (to, from) in transfer.den.iter_mut().zip(&den) {
                        *to = from.as_array()[lane];
                    }
                    let (read, phase) = figures.split_at_mut(own);
                    model
                        .stage
                        .read(&model.ask, &transfer, Some(&self.nominal), read);
                    phase[0] = transfer.phase_deg(self.phase_at);
                    self.judge(&figures);
                }
            }
            if quarters % 2 == 1 {
                self.block.put(quarters, &num, &den);
            }
            self.sweep.add(&self.block, count);
            self.drawn += count as u32;
        }
        true
    }

    fn judge(&mut self, figures: &[f64]) {
        let mut good = true;
        for (limit, held) in self.limits.iter().zip(&mut self.held) {
            let holds = limit.holds(figures[limit.figure]);
            *held += u32::from(holds);
            good &= holds;
        }
        self.passed += u32::from(good);
        for (column, &value) in self.figures.iter_mut().zip(figures) {
            column.push(value);
        }
    }

    /// Boards drawn so far.
    pub fn drawn(&self) -> u32 {
        self.drawn
    }

    /// Boards that hold every limit so far.
    pub fn passed(&self) -> u32 {
        self.passed
    }

    /// How many boards hold each limit so far.
    pub fn held(&self) -> &[u32] {
        &self.held
    }

    /// Where the bands stand, Hz.
    pub fn frequencies(&self) -> &[f64] {
        &self.frequencies
    }

    /// A figure's values, in the order of the boards.
    pub fn figure(&self, index: usize) -> &[f64] {
        &self.figures[index]
    }

    /// The bands of magnitude (dB) and phase (degrees).
    pub fn bands(&self) -> (Band, Band) {
        (
            self.sweep.magnitude(),
            self.sweep.phase(&self.nominal_phase),
        )
    }
}
