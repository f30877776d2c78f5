//! What boards with a set of parts will do: an estimate, good enough to choose by.
//!
//! The misses are taken to move in proportion to the parts' deviations (first order; JCGM 100:2008, 5.1.2), and the
//! same few hundred boards are drawn for every set, so that two sets' difference is known better than either share
//! (common random numbers; Law, "Simulation Modeling and Analysis", ch. 11, from memory).

use crate::circuit::Kind;
use crate::numerics::{POINTS, Scatter};
use crate::parts::Shelf;
use crate::random::uniform;
use crate::stages::{Model, Scratch};

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
    /// For each input that strays, from −1 to 1 on each of [`POINTS`] boards.
    draws: Vec<f32>,
    /// Which inputs stray.
    straying: Vec<usize>,
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
        let draws = (0..POINTS * straying.len()).map(|_| draw()).collect();
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
        Scatter::new(&slopes, &self.draws, terms.len())
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
        scatter.share(&model.term_shape().groups, seen.1)
    }
}
