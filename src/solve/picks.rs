//! Which parts each stage of the path may be bought with.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::noise_setting;
use super::task::{Asked, Before, Blocked, Task, Turn};
use crate::design::{Design, InputError, StageDesign};
use crate::parts::{OpAmp, OpAmps, Shelf};
use crate::pick::{Choices, NoiseLimit, QuietSearch, Weights};
use crate::stages::{Model, by_id};

/// A stage with its two models and the sets that were picked for it.
pub(super) struct Picked {
    asked: StageAsked,
    pub real: Model,
    pub ideal: Model,
    pub choices: Choices,
}

/// All that decides which parts are picked for one stage.
#[derive(Clone, PartialEq)]
pub(super) struct StageAsked {
    /// Without what is taken and how parts stray.
    stage: StageDesign,
    shelf: Shelf,
    op_amps: OpAmps,
    /// The limit on its noise, where it has one.
    noise: Option<NoiseLimit>,
}

/// The search, stage by stage.
pub(super) struct Picks {
    stages: Vec<Stage>,
    /// Before this one all are picked.
    at: usize,
}

enum Stage {
    Picked(Arc<Picked>),
    /// With its models, and the search once it has begun.
    Waiting(Box<(Model, Model)>, Option<Box<QuietSearch>>),
}

impl Task for Picks {
    const FIELD: &'static str = "picks";
    type Reads = Vec<StageAsked>;
    type Finds = Vec<Arc<Picked>>;

    fn reads(asked: &Asked) -> Result<Option<Vec<StageAsked>>, Blocked> {
        let stages = asked.design.stages.iter();
        let stages = stages.map(|stage| StageAsked::of(asked.design, stage));
        Ok(Some(stages.collect()))
    }

    fn begin(
        reads: &Vec<StageAsked>,
        before: Option<Before<Picks>>,
    ) -> Result<Picks, Vec<InputError>> {
        let mut known: Vec<Arc<Picked>> = Vec::new();
        if let Some(before) = before {
            known.extend(before.found.iter().flat_map(|(_, all)| all.iter().cloned()));
            // And what was picked since.
            let new = before.work.into_iter().flat_map(|work| work.stages);
            known.extend(new.filter_map(Stage::into_picked));
        }
        let stages = reads.iter().enumerate();
        let stages = stages.map(|(index, asked)| Stage::new(asked, index, &known));
        Ok(Picks {
            stages: stages.collect::<Result<_, _>>()?,
            at: 0,
        })
    }

    fn advance(
        &mut self,
        reads: &Vec<StageAsked>,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<Vec<Arc<Picked>>> {
        let count = self.stages.len();
        while let Some(stage) = self.stages.get_mut(self.at) {
            let asked = &reads[self.at];
            if let Stage::Waiting(models, search) = stage {
                let search = match search {
                    Some(search) => search,
                    None => match asked.search(&models.0, self.at) {
                        Ok(new) => search.insert(Box::new(new)),
                        Err(errors) => return Turn::Failed(errors),
                    },
                };
                if search.advance(&models.0, go_on).is_pending() {
                    return Turn::More((self.at as f64 + search.progress()) / count as f64);
                }
                let (real, ideal) = (models.0.clone(), models.1.clone());
                *stage = Stage::Picked(Arc::new(Picked {
                    asked: asked.clone(),
                    choices: search.take(),
                    real,
                    ideal,
                }));
            }
            self.at += 1;
        }
        let all = self.stages.iter().filter_map(|stage| match stage {
            Stage::Picked(picked) => Some(Arc::clone(picked)),
            Stage::Waiting(..) => None,
        });
        Turn::Found(all.collect())
    }

    fn is_same(first: &Vec<Arc<Picked>>, second: &Vec<Arc<Picked>>) -> bool {
        first.len() == second.len() && first.iter().zip(second).all(|(a, b)| Arc::ptr_eq(a, b))
    }
}

impl Stage {
    /// Takes over what still holds of what is known of this stage, or of one with its circuit.
    fn new(
        asked: &StageAsked,
        index: usize,
        known: &[Arc<Picked>],
    ) -> Result<Stage, Vec<InputError>> {
        // The one in its place first: of two alike each stays what it was.
        let place = known.get(index).into_iter().chain(known);
        if let Some(same) = place.into_iter().find(|one| one.asked == *asked) {
            return Ok(Stage::Picked(Arc::clone(same)));
        }
        let stage = &asked.stage;
        let blame = |message: String| {
            let path = format!("/stages/{index}/circuit");
            vec![InputError::new(&path, message)]
        };
        let like = known
            .iter()
            .find(|one| one.asked.stage.circuit == stage.circuit);
        let real = match like {
            Some(like) => like.real.with_ask(&stage.ask),
            None => {
                let circuit = by_id(&stage.circuit)
                    .ok_or_else(|| blame("There is no such circuit.".into()))?;
                Model::new(circuit, &stage.ask, &asked.op_amps.usual)
                    .map_err(|error| blame(format!("The circuit cannot be analysed: {error}.")))?
            }
        };
        let real = real.with_op_amps(&asked.op_amps).between(stage.between);
        let ideal = real.with_op_amp(&OpAmp::IDEAL);
        Ok(Stage::Waiting(Box::new((real, ideal)), None))
    }

    fn into_picked(self) -> Option<Arc<Picked>> {
        match self {
            Stage::Picked(picked) => Some(picked),
            Stage::Waiting(..) => None,
        }
    }
}

impl StageAsked {
    fn of(design: &Design, stage: &StageDesign) -> StageAsked {
        StageAsked {
            stage: stage.of_picks(),
            shelf: design.shelf.clone(),
            op_amps: design.op_amps_of(stage),
            noise: noise_limit(design, stage),
        }
    }

    /// The search for its parts; `index` is its place in the path.
    ///
    /// # Errors
    /// Blames pins that the circuit has no parts for.
    pub fn search(&self, real: &Model, index: usize) -> Result<QuietSearch, Vec<InputError>> {
        let pins = self.stage.pins.iter();
        let pins = pins.map(|(name, &value)| match real.netlist.position(name) {
            Some(position) if real.bought[position] => Ok((position, value)),
            _ => Err(vec![InputError::new(
                &format!("/stages/{index}/pins/{name}"),
                format!("This circuit has no part “{name}” to fix."),
            )]),
        });
        let pins: BTreeMap<usize, f64> = pins.collect::<Result<_, _>>()?;
        let (weights, noise) = (weights(&self.stage), self.noise.clone());
        Ok(QuietSearch::new(real, &self.shelf, &pins, weights, noise))
    }
}

/// What counts among a stage's sets.
pub(super) fn weights(stage: &StageDesign) -> Weights {
    let weights = Weights::of(stage.prefer);
    match stage.impedance {
        Some(level) => weights.at_level(level),
        None => weights,
    }
}

/// The limit on a stage's noise, and what noise hangs on; none where it does not matter.
pub(crate) fn noise_limit(design: &Design, stage: &StageDesign) -> Option<NoiseLimit> {
    Some(NoiseLimit {
        highest: stage.noise_limit?,
        setting: noise_setting::of(design, stage),
    })
}

/// The sets of one stage of a design by themselves.
///
/// # Errors
/// Blames the circuit, or pins that it has no parts for.
pub(super) fn choices(design: &Design, index: usize) -> Result<Choices, Vec<InputError>> {
    let Some(stage) = design.stages.get(index) else {
        return Ok(Choices::default());
    };
    let asked = StageAsked::of(design, stage);
    match Stage::new(&asked, index, &[])? {
        Stage::Picked(picked) => Ok(picked.choices.clone()),
        Stage::Waiting(models, _) => {
            let mut search = asked.search(&models.0, index)?;
            while search.advance(&models.0, &mut || true).is_pending() {}
            Ok(search.take())
        }
    }
}
