//! A design with what is found for it so far.

use crate::design::Design;
use crate::outcome::{
    Curves, DemandsOutcome, LoopOutcome, LoopSpread, MotionOutcome, NoiseOutcome, Outcome,
    PathOutcome, ServoOutcome, SpreadOutcome, StageOutcome, Yield,
};

/// One of two designs, with those of its findings that are compared. What is not there yet is absent.
#[derive(Clone, Debug)]
pub struct Side<'a> {
    pub design: &'a Design,
    pub stages: Vec<&'a StageOutcome>,
    pub path: Option<&'a PathOutcome>,
    pub spread: Option<&'a SpreadOutcome>,
    pub servo: Option<&'a ServoOutcome>,
    pub loops: Option<&'a LoopSpread>,
    pub motion: Option<&'a MotionOutcome>,
    pub demands: Option<&'a DemandsOutcome>,
    pub noise: Option<&'a NoiseOutcome>,
}

impl<'a> Side<'a> {
    /// A design with its outcome, whole or in part.
    pub fn of(design: &'a Design, outcome: &'a Outcome) -> Side<'a> {
        Side {
            design,
            stages: outcome.stages.iter().collect(),
            path: outcome.path.as_ref(),
            spread: outcome.spread.as_ref(),
            servo: outcome.servo.as_ref(),
            loops: outcome.loops_over_boards(),
            motion: outcome.motion.as_ref(),
            demands: outcome.demands.as_ref(),
            noise: outcome.noise.as_ref(),
        }
    }

    /// Curves of the whole path: those of its stage where it is one.
    pub fn curves(&self) -> Option<&'a Curves> {
        match self.stages[..] {
            [stage] => stage.curves.as_ref(),
            _ => self.path?.curves.as_ref(),
        }
    }

    /// The loop with the plant's model, or as measured where there is none.
    pub fn closed(&self) -> Option<&'a LoopOutcome> {
        self.servo?.closed()
    }

    /// Boards on which every stage holds its limits.
    pub(super) fn share(&self) -> Option<&'a Yield> {
        self.spread.map(SpreadOutcome::of_all_stages)
    }

    /// Share of boards on which this stage holds its limits.
    pub(super) fn share_of(&self, stage: usize) -> Option<f64> {
        let spread = self.spread?;
        match &spread.path {
            Some(path) => path.stages.get(stage).copied(),
            None => Some(spread.share.fraction),
        }
    }
}
