//! A stage made ready for many evaluations: expanded once, run once a board.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::circuit::{Kind, Netlist, NetlistError, Program, Scale};
use crate::parts::{OpAmp, OpAmps};

use super::quiet::Quiet;
use super::{Ask, Given, NoiseRule, Stage, Terms, Yardstick};

/// Impedances are divided by this before the arithmetic, Ω: the middle of what is comfortable.
const IMPEDANCE: f64 = 10e3;

/// What a stage works between, Ω: only circuits without an op amp at that end feel it.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Surroundings {
    /// Resistance of what drives it.
    pub source: f64,
    /// Resistance of what it drives.
    pub load: f64,
}

impl Default for Surroundings {
    fn default() -> Surroundings {
        Surroundings {
            source: 100.0,
            load: 100e3,
        }
    }
}

/// A stage with its ask and its op amps.
#[derive(Clone)]
pub struct Model {
    pub stage: &'static dyn Stage,
    pub ask: Ask,
    pub yardstick: Arc<dyn Yardstick>,
    pub netlist: Netlist,
    /// From the signal's input to the output.
    pub program: Program,
    /// From each further input, in the netlist's order, with the others grounded.
    pub others: Vec<Program>,
    pub scale: Scale,
    /// Which parts are bought: not op amps, and not what the stage works between.
    pub bought: Vec<bool>,
    pub surroundings: Surroundings,
    /// The limit on its noise that its yardstick has, where there is one.
    noise: Option<Arc<NoiseRule>>,
    /// In the netlist's order.
    op_amps: Vec<[f64; 3]>,
}

impl Model {
    /// Expands the stage's netlist; all its op amps are this one.
    ///
    /// # Errors
    /// When the netlist cannot be analysed, which is a mistake in the stage's file.
    pub fn new(
        stage: &'static dyn Stage,
        ask: &Ask,
        op_amp: &OpAmp,
    ) -> Result<Model, NetlistError> {
        let netlist = stage.netlist();
        let others = (1..netlist.inputs().len())
            .map(|input| Program::expand_from(&netlist, input))
            .collect::<Result<_, _>>()?;
        Ok(Model {
            stage,
            ask: ask.clone(),
            yardstick: ask.yardstick().into(),
            program: Program::expand(&netlist)?,
            others,
            scale: Scale {
                omega: std::f64::consts::TAU * ask.frequency(),
                impedance: IMPEDANCE,
            },
            bought: bought(stage, &netlist),
            surroundings: Surroundings::default(),
            noise: None,
            op_amps: vec![op_amp.values(); netlist.op_amps().count()],
            netlist,
        })
    }

    /// The same stage with another op amp in all places.
    pub fn with_op_amp(&self, op_amp: &OpAmp) -> Model {
        let mut model = self.clone();
        model.op_amps.fill(op_amp.values());
        model
    }

    /// The same stage with these op amps.
    pub fn with_op_amps(&self, op_amps: &OpAmps) -> Model {
        let own = self.netlist.op_amps();
        Model {
            op_amps: own.map(|part| op_amps.of(&part.name).values()).collect(),
            ..self.clone()
        }
    }

    /// Takes other op amps, by their numbers as [`OpAmp::values`] gives them, in the netlist's order.
    pub fn set_op_amps(&mut self, op_amps: impl Iterator<Item = [f64; 3]>) {
        for (own, other) in self.op_amps.iter_mut().zip(op_amps) {
            *own = other;
        }
    }

    /// The same stage between something else.
    pub fn between(self, surroundings: Surroundings) -> Model {
        Model {
            surroundings,
            ..self
        }
    }

    /// The op amps' numbers in the netlist's order, as [`OpAmp::values`] gives them.
    pub fn op_amps(&self) -> &[[f64; 3]] {
        &self.op_amps
    }

    /// How many op amps it has.
    pub fn op_amp_count(&self) -> u32 {
        self.op_amps.len() as u32
    }

    /// The inverse gain-bandwidth of its slowest op amp, s; 0 where it has none, or only ideal ones.
    pub fn slowest(&self) -> f64 {
        let inverses = self.op_amps.iter().map(|[_, bandwidth, _]| *bandwidth);
        inverses.fold(0.0, f64::max)
    }

    /// The same stage with the gain-bandwidth of all its op amps multiplied by a factor.
    pub fn faster(&self, factor: f64) -> Model {
        let mut model = self.clone();
        for [_, bandwidth, _] in &mut model.op_amps {
            *bandwidth /= factor;
        }
        model
    }

    /// The value of a part that is not bought; 0 for an op amp.
    pub fn given(&self, part: usize) -> f64 {
        let given = self.stage.grouping().given;
        match given.iter().find(|(position, _)| *position == part) {
            Some((_, Given::Source)) => self.surroundings.source,
            Some((_, Given::Load)) => self.surroundings.load,
            None => 0.0,
        }
    }

    /// The same stage for another ask of its family.
    pub fn with_ask(&self, ask: &Ask) -> Model {
        Model {
            ask: ask.clone(),
            yardstick: ask.yardstick().into(),
            noise: None,
            scale: Scale {
                omega: std::f64::consts::TAU * ask.frequency(),
                ..self.scale
            },
            ..self.clone()
        }
    }

    /// The same stage with a limit on its noise, or without one.
    pub fn with_noise(&self, rule: Option<Arc<NoiseRule>>) -> Model {
        let bare: Arc<dyn Yardstick> = match self.noise {
            Some(_) => self.ask.yardstick().into(),
            None => Arc::clone(&self.yardstick),
        };
        Model {
            yardstick: match &rule {
                Some(rule) => Arc::new(Quiet::new(bare, Arc::clone(rule))),
                None => bare,
            },
            noise: rule,
            ..self.clone()
        }
    }

    /// The limit on its noise, where there is one.
    pub fn noise(&self) -> Option<&Arc<NoiseRule>> {
        self.noise.as_ref()
    }

    /// Part values (one a part, Ω or F) as the numbers that the programs take.
    pub fn inputs(&self, values: &[f64], inputs: &mut Vec<f64>) {
        inputs.clear();
        let mut op_amps = self.op_amps.iter();
        for (part, &value) in self.netlist.parts().iter().zip(values) {
            match part.kind {
                Kind::Resistor { .. } | Kind::Capacitor { .. } => inputs.push(value),
                Kind::OpAmp { .. } => {
                    if let Some(own) = op_amps.next() {
                        inputs.extend_from_slice(own);
                    }
                }
            }
        }
    }

    pub fn term_shape(&self) -> &Terms {
        self.yardstick.term_shape()
    }
}

fn bought(stage: &dyn Stage, netlist: &Netlist) -> Vec<bool> {
    let given = stage.grouping().given;
    let parts = netlist.parts().iter().enumerate();
    parts
        .map(|(index, part)| {
            !matches!(part.kind, Kind::OpAmp { .. })
                && !given.iter().any(|(position, _)| *position == index)
        })
        .collect()
}
