//! What a board with given numbers would have measured, and how that changes with each unknown.

use num_complex::Complex64;

use super::data::Data;
use super::prior::NumberLaw;
use super::setting::Setting;
use crate::circuit::Kind;
use crate::response::Transfer;

/// A step of a logarithm for derivatives.
const STEP: f64 = 1e-6;
/// Standard deviation of the measurement's own gain: what a calibration leaves.
pub(super) const CALIBRATION: f64 = 2e-3;
/// Standard deviation of an op amp's number that does not stray: it may yet be another.
const STILL: f64 = 1e-4;

/// The unknowns: logarithms of numbers over the marked ones, then of the measurement's gain, then those of the
/// block behind the stages.
#[derive(Clone, Debug)]
pub(super) struct Unknowns {
    /// Which of a board's numbers are unknown.
    pub numbers: Vec<usize>,
    /// Standard deviations of what is their own.
    pub own: Vec<f64>,
    /// Common deviations that they feel.
    pub shared: Vec<Option<(usize, f64)>>,
    /// How many of these there are.
    pub commons: usize,
}

impl Unknowns {
    pub fn new(setting: &Setting, laws: &[NumberLaw]) -> Unknowns {
        let places = setting.places();
        let is_unknown = |n: &usize| {
            let place = places[*n];
            let op_amp = matches!(setting.kind(place), Kind::OpAmp { .. }) && place.input < 2;
            op_amp || setting.is_bought(place) || laws[*n].deviation() > 0.0
        };
        let numbers: Vec<usize> = (0..places.len()).filter(is_unknown).collect();
        let own = numbers.iter().map(|&n| match laws[n].deviation() {
            0.0 => STILL,
            _ => laws[n].own,
        });
        let mut own: Vec<f64> = own.collect();
        let mut shared: Vec<Option<(usize, f64)>> =
            numbers.iter().map(|&n| laws[n].shared).collect();
        own.push(CALIBRATION);
        if let Some(behind) = &setting.behind {
            own.extend(behind.parameters().iter().map(|p| p.standard_deviation));
        }
        shared.resize(own.len(), None);
        Unknowns {
            commons: shared
                .iter()
                .flatten()
                .map(|(common, _)| common + 1)
                .max()
                .unwrap_or(0),
            numbers,
            own,
            shared,
        }
    }

    pub fn count(&self) -> usize {
        self.own.len()
    }

    /// Place of the measurement's gain.
    pub fn gain(&self) -> usize {
        self.numbers.len()
    }

    /// Place of a number.
    pub fn of_number(&self, number: usize) -> Option<usize> {
        self.numbers.iter().position(|n| *n == number)
    }

    /// The numbers of a board, from those that it was begun with and the unknowns.
    pub fn board(&self, base: &[f64], x: &[f64], numbers: &mut Vec<f64>) {
        numbers.clear();
        numbers.extend_from_slice(base);
        for (&number, x) in self.numbers.iter().zip(x) {
            numbers[number] *= x.exp();
        }
    }
}

/// Curves of every block, and of all of them in series.
#[derive(Clone, Debug, Default)]
pub(super) struct Curves {
    blocks: Vec<Vec<Complex64>>,
    pub total: Vec<Complex64>,
}

/// Space for evaluations.
pub(super) struct Predictor {
    firsts: Vec<usize>,
    registers: Vec<f64>,
    transfer: Transfer,
    moved: Vec<Complex64>,
    numbers: Vec<f64>,
}

impl Predictor {
    pub fn new(setting: &Setting) -> Predictor {
        Predictor {
            firsts: setting.firsts(),
            registers: Vec::new(),
            transfer: Transfer::zero(1.0),
            moved: Vec::new(),
            numbers: Vec::new(),
        }
    }

    /// The response of one stage of a board.
    fn stage(&mut self, setting: &Setting, stage: usize, numbers: &[f64], frequencies: &[f64]) {
        let model = &setting.stages[stage].model;
        model.program.transfer_into(
            &numbers[self.firsts[stage]..self.firsts[stage + 1]],
            model.scale,
            &mut self.registers,
            &mut self.transfer,
        );
        self.moved.clear();
        self.moved
            .extend(frequencies.iter().map(|f| self.transfer.at(*f)));
    }

    /// All curves of a board; `x` are the unknowns, of which the gain and those behind count here, and `sign` the
    /// measurement's.
    pub fn curves(
        &mut self,
        setting: &Setting,
        (unknowns, data): (&Unknowns, &Data),
        (numbers, x, sign): (&[f64], &[f64], f64),
        curves: &mut Curves,
    ) {
        curves
            .blocks
            .resize_with(setting.stages.len() + 1, Vec::new);
        for stage in 0..setting.stages.len() {
            self.stage(setting, stage, numbers, &data.frequencies);
            std::mem::swap(&mut self.moved, &mut curves.blocks[stage]);
        }
        let gain = unknowns.gain();
        behind(
            setting,
            data,
            &x[gain + 1..],
            &mut curves.blocks[setting.stages.len()],
        );
        let factor = sign * x[gain].exp();
        curves.total.clear();
        curves.total.extend((0..data.len()).map(|k| {
            let product = curves.blocks.iter().map(|block| block[k]);
            product.fold(Complex64::new(factor, 0.0), |all, one| all * one)
        }));
    }

    /// How the whole curve changes with each unknown, written to `columns` one after the other.
    pub fn derivatives(
        &mut self,
        setting: &Setting,
        (unknowns, data): (&Unknowns, &Data),
        (numbers, x, sign): (&[f64], &[f64], f64),
        curves: &Curves,
        columns: &mut Vec<Vec<Complex64>>,
    ) {
        columns.resize_with(unknowns.count(), Vec::new);
        let mut own = std::mem::take(&mut self.numbers);
        own.clear();
        own.extend_from_slice(numbers);
        let gain = unknowns.gain();
        let factor = sign * x[gain].exp();
        let mut before = usize::MAX;
        let mut others: Vec<Complex64> = Vec::new();
        let mut rest = |block: usize, others: &mut Vec<Complex64>| {
            if block != before {
                before = block;
                others.clear();
                others.extend((0..data.len()).map(|k| {
                    let all = curves.blocks.iter().enumerate();
                    let all = all.filter(|(at, _)| *at != block);
                    all.fold(Complex64::new(factor, 0.0), |all, (_, one)| all * one[k])
                }));
            }
        };
        for (&number, column) in unknowns.numbers.iter().zip(columns.iter_mut()) {
            let stage = self.firsts.partition_point(|first| *first <= number) - 1;
            rest(stage, &mut others);
            own[number] *= 1.0 + STEP;
            self.stage(setting, stage, &own, &data.frequencies);
            own[number] = numbers[number];
            column.clear();
            let moves = self.moved.iter().zip(&curves.blocks[stage]);
            let moves = moves.map(|(moved, here)| (moved - here) / STEP);
            column.extend(moves.zip(&others).map(|(slope, rest)| slope * rest));
        }
        columns[gain].clone_from(&curves.total);
        let unknown = &x[gain + 1..];
        if !unknown.is_empty() {
            let block = setting.stages.len();
            rest(block, &mut others);
            let mut moved = unknown.to_vec();
            let mut there = Vec::new();
            for k in 0..unknown.len() {
                moved[k] += STEP;
                behind(setting, data, &moved, &mut there);
                moved[k] = unknown[k];
                let column = &mut columns[gain + 1 + k];
                column.clear();
                let moves = there.iter().zip(&curves.blocks[block]);
                let moves = moves.map(|(moved, here)| (moved - here) / STEP);
                column.extend(moves.zip(&others).map(|(slope, rest)| slope * rest));
            }
        }
        self.numbers = own;
    }
}

/// The block behind the stages; 1 where there is none.
fn behind(setting: &Setting, data: &Data, unknowns: &[f64], curve: &mut Vec<Complex64>) {
    curve.clear();
    curve.extend(data.frequencies.iter().map(|f| match &setting.behind {
        Some(block) => block.at(*f, unknowns),
        None => Complex64::new(1.0, 0.0),
    }));
}
