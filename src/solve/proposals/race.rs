//! Trials one after the other, in slices.

use std::task::Poll;

use crate::design::{Design, StageDesign};
use crate::solve::population::population_of;
use crate::spread::{Trial, Verdict};
use crate::stages::Model;

/// What is the same in every trial.
#[derive(Clone, Copy)]
pub struct Bed<'a> {
    pub design: &'a Design,
    /// The shown stage's.
    pub model: &'a Model,
}

/// One thing to try: the stage with its parts' tolerances, and their values in the netlist's order.
#[derive(Clone)]
pub struct Entrant {
    pub stage: StageDesign,
    pub values: Vec<f64>,
}

/// Tries each entrant on the same boards.
pub struct Race {
    pub entrants: Vec<Entrant>,
    boards: usize,
    running: Option<Trial>,
    verdicts: Vec<Verdict>,
}

impl Race {
    pub fn new(entrants: Vec<Entrant>, boards: usize) -> Race {
        Race {
            entrants,
            boards,
            running: None,
            verdicts: Vec::new(),
        }
    }

    /// Works on; gives a verdict for each entrant when all are done.
    pub fn advance(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<Vec<Verdict>> {
        while let Some(entrant) = self.entrants.get(self.verdicts.len()) {
            let trial = self.running.get_or_insert_with(|| {
                let of = (bed.model, entrant.values.as_slice());
                let population = population_of(bed.design, &entrant.stage, of);
                let seed = bed.design.spread.seed;
                Trial::new(bed.model, &entrant.values, population, seed, self.boards)
            });
            if trial.advance(bed.model, go_on).is_pending() {
                return Poll::Pending;
            }
            let done = self.running.take().map(Trial::into_verdict);
            self.verdicts.extend(done);
        }
        Poll::Ready(std::mem::take(&mut self.verdicts))
    }
}
