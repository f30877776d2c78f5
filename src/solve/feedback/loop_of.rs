//! The loop as tasks read it.

use std::ops::Deref;

use crate::design::Summing;
use crate::feedback::{KeptLoop, OpenLoop};
use crate::plant::{Model, Plant};
use crate::response::Transfer;
use crate::solve::plant::{Known, PlantModel};
use crate::solve::stages::{Line, Stages};
use crate::solve::task::{Asked, Blocked, Seen};

/// The loop as it is built: the path's stages with the bought parts and the real op amp, the plant, and the sign.
#[derive(Clone, PartialEq)]
pub(in crate::solve) struct LoopOf {
    pub lines: Seen<Vec<Line>>,
    pub plant: Seen<Known>,
    summing: Summing,
}

impl LoopOf {
    /// None where there is no plant.
    pub fn reads(asked: &Asked) -> Result<Option<LoopOf>, Blocked> {
        let lines = asked.found::<Stages>()?;
        let plant = asked.found::<PlantModel>()?;
        Ok(lines.zip(plant).map(|(lines, plant)| LoopOf {
            lines,
            plant,
            summing: asked.design.servo.summing,
        }))
    }

    pub fn stages(&self) -> Vec<&Transfer> {
        let stages = self.lines.iter();
        stages.map(|line| &line.found.transfers[2]).collect()
    }

    /// What the summing point makes of the loop's sign.
    pub fn sign(&self) -> f64 {
        self.summing.sign()
    }

    /// The loop with the sweep, where there is one.
    pub fn measured(&self) -> Option<OpenLoop<'_>> {
        let sweep = self.plant.sweep.as_ref()?;
        Some(self.with(Plant::Sweep(sweep)))
    }

    /// The loop with the plant's model, where it has one.
    pub fn modelled(&self) -> Option<ModelledLoop> {
        let model = self.plant.model.clone()?;
        let built = self.clone();
        Some(ModelledLoop { built, model })
    }

    fn with<'a>(&'a self, plant: Plant<'a>) -> OpenLoop<'a> {
        OpenLoop {
            stages: self.stages(),
            plant,
            sign: self.sign(),
        }
    }
}

/// A loop whose plant has a model.
#[derive(Clone)]
pub(in crate::solve) struct ModelledLoop {
    built: LoopOf,
    /// The plant's.
    pub model: Model,
}

impl ModelledLoop {
    /// None where the plant has no model.
    pub fn reads(asked: &Asked) -> Result<Option<ModelledLoop>, Blocked> {
        Ok(LoopOf::reads(asked)?.and_then(|of| of.modelled()))
    }

    pub fn open(&self) -> OpenLoop<'_> {
        self.with(Plant::Model(&self.model))
    }

    /// The same without some of the stages, and with this sign.
    pub fn without(&self, left_out: &[usize], sign: f64) -> KeptLoop {
        let stages = self.stages().into_iter().enumerate();
        let kept = stages.filter(|(place, _)| !left_out.contains(place));
        KeptLoop {
            stages: kept.map(|(_, transfer)| transfer.clone()).collect(),
            model: self.model.clone(),
            sign,
        }
    }
}

impl PartialEq for ModelledLoop {
    /// The model is the plant's.
    fn eq(&self, other: &ModelledLoop) -> bool {
        self.built == other.built
    }
}

impl Deref for ModelledLoop {
    type Target = LoopOf;

    fn deref(&self) -> &LoopOf {
        &self.built
    }
}
