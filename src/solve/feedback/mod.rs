//! The loop round the plant: its curves and margins, its motion, all of it over boards.

mod boards;
mod looped;
mod motion;

pub(super) use boards::LoopBoards;
pub(super) use looped::{Loop, Traces};
pub(super) use motion::MovedLoop;

use super::plant::{Known, PlantModel};
use super::stages::{Line, Stages};
use super::task::{Asked, Blocked, Seen};
use crate::design::Summing;
use crate::feedback::{KeptLoop, OpenLoop};
use crate::plant::Plant;
use crate::response::Transfer;

/// What the summing point makes of the loop's sign.
pub(super) fn sign(summing: Summing) -> f64 {
    match summing {
        Summing::Subtracts => 1.0,
        Summing::Adds => -1.0,
    }
}

/// The loop as it is built: the path's stages with the bought parts and the real op amp, the plant, and the sign.
#[derive(Clone, PartialEq)]
pub(in crate::solve) struct LoopOf {
    pub(super) lines: Seen<Vec<Line>>,
    pub(super) plant: Seen<Known>,
    pub(super) summing: Summing,
}

impl LoopOf {
    /// None where there is no plant.
    pub(super) fn reads(asked: &Asked) -> Result<Option<LoopOf>, Blocked> {
        let lines = asked.found::<Stages>()?;
        let plant = asked.found::<PlantModel>()?;
        Ok(lines.zip(plant).map(|(lines, plant)| LoopOf {
            lines,
            plant,
            summing: asked.design.servo.summing,
        }))
    }

    /// The same where the plant has a model.
    pub(super) fn with_model(asked: &Asked) -> Result<Option<LoopOf>, Blocked> {
        Ok(LoopOf::reads(asked)?.filter(|of| of.plant.model.is_some()))
    }

    pub(super) fn stages(&self) -> Vec<&Transfer> {
        let stages = self.lines.iter();
        stages.map(|line| &line.found.transfers[2]).collect()
    }

    pub(super) fn open<'a>(&'a self, plant: Plant<'a>) -> OpenLoop<'a> {
        OpenLoop {
            stages: self.stages(),
            plant,
            sign: sign(self.summing),
        }
    }

    /// The loop with the sweep, where there is one.
    fn measured(&self) -> Option<OpenLoop<'_>> {
        let sweep = self.plant.sweep.as_ref()?;
        Some(self.open(Plant::Sweep(sweep)))
    }

    /// The loop with the plant's model, where it has one.
    pub(super) fn modelled(&self) -> Option<OpenLoop<'_>> {
        let model = self.plant.model.as_ref()?;
        Some(self.open(Plant::Model(model)))
    }

    /// The same without some of the stages, and with this sign.
    pub(super) fn without(&self, left_out: &[usize], sign: f64) -> Option<KeptLoop> {
        let stages = self.stages().into_iter().enumerate();
        let kept = stages.filter(|(place, _)| !left_out.contains(place));
        Some(KeptLoop {
            stages: kept.map(|(_, transfer)| transfer.clone()).collect(),
            model: self.plant.model.clone()?,
            sign,
        })
    }
}
