//! Another worker's half: draws the boards that it is given.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::plan::Plan;
use crate::feedback::{LoopBatch, LoopSampler};
use crate::spread::{Batch, Counts, Draw, Errand, Sampler};
use crate::stages::Model;

/// What came of an errand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Piece {
    /// What was read of these boards of the path.
    Path(Range<u32>, Batch),
    /// What was read of these boards of the loop.
    Loop(Range<u32>, LoopBatch),
    /// What was counted of the path's bands since they were handed in last.
    Counts(Vec<Counts>),
}

/// One run, ready to be drawn; stages of the one before are not expanded again.
#[derive(Default)]
pub struct Helper {
    models: Vec<Model>,
    sampler: Option<Either>,
}

enum Either {
    Path(Box<Sampler>),
    Loop(Box<LoopSampler>),
}

impl Helper {
    /// Prepares for a run, and forgets the one before.
    pub fn begin(&mut self, plan: &Plan) {
        self.sampler = None;
        let stages = plan.stages();
        let models = stages.iter().map(|of| of.model(self.models.iter()));
        let Some(models) = models.collect::<Option<Vec<Model>>>() else {
            return;
        };
        self.models = models;
        let models: Vec<&Model> = self.models.iter().collect();
        self.sampler = Some(match plan {
            Plan::Path(plan) => Either::Path(Box::new(plan.sampler(&models))),
            Plan::Loop(plan) => Either::Loop(Box::new(plan.sampler(&models))),
        });
    }

    /// Does an errand; none where the run has no such.
    pub fn run(&mut self, errand: Errand) -> Option<Piece> {
        let models: Vec<&Model> = self.models.iter().collect();
        match (self.sampler.as_mut()?, errand) {
            (Either::Path(sampler), Errand::Draw(boards)) => {
                let batch = sampler.draw(&models, boards.clone());
                Some(Piece::Path(boards, batch))
            }
            (Either::Path(sampler), Errand::HandIn) => Some(Piece::Counts(sampler.hand_in())),
            (Either::Loop(sampler), Errand::Draw(boards)) => {
                let batch = sampler.draw(&models, boards.clone());
                Some(Piece::Loop(boards, batch))
            }
            (Either::Loop(_), Errand::HandIn) => None,
        }
    }
}
