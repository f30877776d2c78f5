//! All that another worker needs to draw boards of a run: plain data.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::feedback::{KeptLoop, LoopRun, LoopSampler, LoopSetting, PlantVariations, Traced};
use crate::parts::OpAmp;
use crate::response::Transfer;
use crate::spread::{
    BLOCK, Distribution, Draw, Population, RunStage, RunView, Sampler, Sampling, SpreadRun,
};
use crate::stages::{Ask, Model, NoiseRule, by_id};

/// What a run is made of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Plan {
    Path(PathPlan),
    Loop(LoopPlan),
}

/// Boards of the path.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PathPlan {
    pub(super) stages: Vec<PlannedStage>,
    pub(super) sampling: Sampling,
    pub(super) view: RunView,
}

/// One stage as boards of it are read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlannedStage {
    pub(super) of: StageOf,
    /// Figures and response of the board as marked.
    pub(super) nominal: Vec<f64>,
    pub(super) reference: Transfer,
}

/// What decides a stage's programs and its yardstick.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StageOf {
    circuit: String,
    #[serde(with = "crate::tagged")]
    ask: Ask,
    noise: Option<NoiseRule>,
}

/// Boards and plants of the loop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoopPlan {
    pub(super) stages: Vec<StageOf>,
    /// The board as marked, and its whole curve.
    pub(super) nominal: KeptLoop,
    pub(super) traced: Vec<Traced>,
    pub(super) population: Population,
    pub(super) variations: PlantVariations,
    pub(super) distribution: Distribution,
    pub(super) settle_band: f64,
    pub(super) seed: u64,
    pub(super) boards: u32,
}

impl Plan {
    /// The path's stages.
    pub(super) fn stages(&self) -> Vec<&StageOf> {
        match self {
            Plan::Path(plan) => plan.stages.iter().map(|stage| &stage.of).collect(),
            Plan::Loop(plan) => plan.stages.iter().collect(),
        }
    }
}

impl StageOf {
    pub fn new(model: &Model) -> StageOf {
        StageOf {
            circuit: model.stage.id().to_owned(),
            ask: model.ask.clone(),
            noise: model.noise().map(|rule| (**rule).clone()),
        }
    }

    /// The stage ready to be run; `like` are models to take its programs from, where one is of its circuit. The op amp's
    /// numbers are among those of each board, so that its own say nothing. None where there is no such circuit.
    pub fn model<'a>(&self, mut like: impl Iterator<Item = &'a Model>) -> Option<Model> {
        let bare = match like.find(|model| model.stage.id() == self.circuit) {
            Some(like) => like.with_ask(&self.ask),
            None => Model::new(by_id(&self.circuit)?, &self.ask, &OpAmp::IDEAL).ok()?,
        };
        let rule = self.noise.clone().map(Arc::new);
        Some(bare.with_noise(rule))
    }
}

impl PathPlan {
    fn stages<'a>(&'a self, models: &[&'a Model]) -> Vec<RunStage<'a>> {
        let stages = self.stages.iter().zip(models);
        let stages = stages.map(|(stage, &model)| RunStage {
            model,
            nominal: stage.nominal.clone(),
            reference: &stage.reference,
        });
        stages.collect()
    }

    /// The run; `models` are the path's.
    pub fn run(&self, models: &[&Model]) -> SpreadRun {
        let (sampling, view) = (self.sampling.clone(), self.view.clone());
        SpreadRun::new(self.stages(models), sampling, view)
    }

    /// What draws its boards, with bins where the run's own lie.
    pub fn sampler(&self, models: &[&Model]) -> Sampler {
        let Sampling {
            population,
            seed,
            boards,
            ..
        } = &self.sampling;
        let stages = self.stages(models);
        let mut sampler = Sampler::new(&stages, population.clone(), *seed, &self.view);
        sampler.draw(models, 0..(*boards).min(BLOCK as u32));
        sampler.twin()
    }
}

impl LoopPlan {
    fn setting<'a>(&'a self, models: &[&'a Model]) -> LoopSetting<'a> {
        LoopSetting {
            stages: models.to_vec(),
            population: self.population.clone(),
            plant: &self.nominal.model,
            variations: self.variations,
            distribution: self.distribution,
            sign: self.nominal.sign,
            settle_band: self.settle_band,
            seed: self.seed,
            boards: self.boards,
        }
    }

    /// The run; `models` are the path's.
    pub fn run(&self, models: &[&Model]) -> LoopRun {
        LoopRun::new(self.setting(models), &self.nominal.open(), &self.traced)
    }

    /// What draws its boards.
    pub fn sampler(&self, models: &[&Model]) -> LoopSampler {
        LoopSampler::new(self.setting(models), &self.nominal.open(), &self.traced)
    }
}
