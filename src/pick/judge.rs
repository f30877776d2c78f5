//! What boards with a set of parts will do: an estimate, good enough to choose by.
//!
//! The misses are taken to move in proportion to the parts' deviations (first order; JCGM 100:2008, 5.1.2), and the
//! same few hundred boards are drawn for every set, so that two sets' difference is known better than either share
//! (common random numbers; Law, "Simulation Modeling and Analysis", ch. 11, from memory).

use crate::circuit::Kind;
use crate::parts::Shelf;
use crate::random::uniform;
use crate::stages::{Model, Scratch, Terms};

/// Boards behind an estimate, and as many that are their mirror images.
const BOARDS: usize = 256;
/// How far gain-bandwidths stray (a fraction), and open-loop gains (as the natural logarithm of 6 dB): data sheets
/// state typical values (common practice).
const GAIN_BANDWIDTH: f64 = 0.3;
const OPEN_LOOP_GAIN: f64 = 0.69;
/// Of a number's logarithm, for its slope.
const NUDGE: f64 = 1e-4;

/// Boards as deviations of the numbers that a stage's program takes.
pub struct Judge {
    /// Largest deviation of each of the program's inputs; 0 where nothing strays.
    reach: Vec<f64>,
    /// For each input that strays, from −1 to 1 on each board.
    draws: Vec<f32>,
    /// Which inputs stray.
    straying: Vec<usize>,
}

/// How far boards' misses are from those of the board as marked.
pub struct Scatter {
    /// Board by board, one term after the other. Shares are counts, for which single precision is enough.
    by: Vec<f32>,
    /// Term by term, the furthest.
    most: Vec<f32>,
}

impl Judge {
    /// Parts stray evenly within the tolerance of their bin.
    pub fn new(model: &Model, shelf: &Shelf) -> Judge {
        let mut reach = Vec::new();
        for (part, &bought) in model.netlist.parts().iter().zip(&model.bought) {
            match (part.kind, shelf.bin(part.kind)) {
                (Kind::OpAmp { .. }, _) => reach.extend([OPEN_LOOP_GAIN, GAIN_BANDWIDTH, 0.0]),
                (_, Some(bin)) if bought => reach.push(bin.tolerance),
                _ => reach.push(0.0),
            }
        }
        let straying: Vec<usize> = (0..reach.len()).filter(|&at| reach[at] > 0.0).collect();
        let mut state = 1u64;
        let mut draw = || (2.0 * uniform(&mut state) - 1.0) as f32;
        let draws = (0..BOARDS * straying.len()).map(|_| draw()).collect();
        Judge {
            reach,
            draws,
            straying,
        }
    }

    /// How boards with parts like these scatter. `figures` and `terms` are those of the set.
    pub fn scatter(
        &self,
        model: &Model,
        values: &[f64],
        (figures, terms): (&[f64], &[f64]),
        scratch: &mut Scratch,
    ) -> Scatter {
        let mut inputs = Vec::new();
        model.inputs(values, &mut inputs);
        let nudged = self.straying.iter().map(|&at| {
            let mut nudged = inputs.clone();
            nudged[at] *= 1.0 + NUDGE;
            (nudged, Some(figures))
        });
        let mut slopes = model.terms_of_inputs(&nudged.collect::<Vec<_>>(), scratch);
        for (slope, &at) in slopes.iter_mut().zip(&self.straying) {
            for (slope, term) in slope.iter_mut().zip(terms) {
                *slope = (*slope - term) / NUDGE * self.reach[at];
            }
        }
        let mut by = vec![0.0; BOARDS * terms.len()];
        for (slope, draws) in slopes.iter().zip(self.draws.chunks(BOARDS)) {
            for (column, slope) in by.chunks_exact_mut(BOARDS).zip(slope) {
                let slope = *slope as f32;
                for (by, draw) in column.iter_mut().zip(draws) {
                    *by += slope * draw;
                }
            }
        }
        let most = by.chunks_exact(BOARDS).map(furthest).collect();
        Scatter { by, most }
    }

    /// A set's share of good boards.
    pub fn share(
        &self,
        model: &Model,
        values: &[f64],
        seen: (&[f64], &[f64]),
        scratch: &mut Scratch,
    ) -> f64 {
        let scatter = self.scatter(model, values, seen, scratch);
        scatter.share(model.term_shape(), seen.1)
    }
}

impl Scatter {
    /// The share of boards that hold every limit where the board as marked misses by `terms`.
    pub fn share(&self, shape: &Terms, terms: &[f64]) -> f64 {
        let is_known = self.most.iter().all(|most| most.is_finite());
        if !is_known || terms.iter().any(|term| !term.is_finite()) {
            return 0.0;
        }
        // The largest square of any group's miss, of boards and of their mirror images.
        let mut worst = [[0.0f32; BOARDS]; 2];
        let columns = (self.by.chunks_exact(BOARDS).zip(&self.most)).zip(terms);
        let mut columns = columns.map(|((by, most), term)| (by, *most, *term as f32));
        for &size in &shape.groups {
            take_in(columns.clone().take(size), &mut worst);
            columns.nth(size - 1);
        }
        let good = worst
            .as_flattened()
            .iter()
            .map(|worst| i32::from(*worst <= 1.0));
        f64::from(good.sum::<i32>()) / (2 * BOARDS) as f64
    }
}

/// Takes in a group of terms, each with its column of deviations and the furthest of them.
fn take_in<'a>(
    group: impl Iterator<Item = (&'a [f32], f32, f32)> + Clone,
    worst: &mut [[f32; BOARDS]; 2],
) {
    let reach = group
        .clone()
        .map(|(_, most, term)| (term.abs() + most).powi(2));
    // No board of these is bad.
    if reach.sum::<f32>() <= 1.0 {
        return;
    }
    let mut squares = [[0.0f32; BOARDS]; 2];
    for (column, _, term) in group {
        let [boards, mirrored] = &mut squares;
        for ((board, mirrored), by) in boards.iter_mut().zip(mirrored).zip(column) {
            *board += (term + by) * (term + by);
            *mirrored += (term - by) * (term - by);
        }
    }
    let squares = squares.as_flattened().iter();
    for (worst, square) in worst.as_flattened_mut().iter_mut().zip(squares) {
        *worst = if *square > *worst { *square } else { *worst };
    }
}

/// The largest size; NaN where one is not a number.
fn furthest(column: &[f32]) -> f32 {
    // A sum is not a number either then.
    let sum: f32 = column.iter().sum();
    match sum.is_nan() {
        true => f32::NAN,
        false => column.iter().fold(0.0, |most, by| most.max(by.abs())),
    }
}
