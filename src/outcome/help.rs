//! Help with the loop, and how it is put in the path.

use serde::{Deserialize, Serialize};

use super::WholeHelp;
use crate::design::{Design, StageDesign, Summing};
use crate::pick::IN_A_LOOP;
use crate::stages::{Ask, NotchAsk};

/// Help with the loop: a notch for a resonance, a controller for a crossover.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HelpOutcome {
    pub notch: Option<NotchHelp>,
    pub controller: Option<ControllerHelp>,
    pub whole: Option<WholeHelp>,
}

/// What can be done about a resonance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotchHelp {
    /// In sentences.
    pub told: Vec<String>,
    /// The notch to put in the path, if one does.
    #[serde(with = "crate::tagged")]
    pub ask: Option<NotchAsk>,
    /// Phase that it costs at the crossover, degrees.
    pub cost_deg: Option<f64>,
    /// A notch in the path near the resonance, left out of the advice and to be replaced.
    pub replaces: Option<usize>,
}

/// Stages for a wanted crossover and phase margin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ControllerHelp {
    /// In sentences.
    pub told: Vec<String>,
    /// What to put in the path, in signal order; empty where nothing does.
    pub stages: Vec<StageHelp>,
    /// What the summing point must do with these circuits in the path.
    pub summing: Summing,
    /// Where |L| is 1 with them as they are picked off the shelf, Hz, and the phase margin there, degrees.
    pub crossover: Option<f64>,
    pub phase_margin: Option<f64>,
    /// Stages of the path, in a row, that are left out here and to be replaced: a controller and the amplifiers
    /// behind it.
    pub replaces: Vec<usize>,
    /// Whether the controller among these is another than the one that is wanted.
    pub is_other: bool,
}

/// A stage to put in the path.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StageHelp {
    pub circuit: String,
    #[serde(with = "crate::tagged")]
    pub ask: Ask,
    /// Its gain at the wanted crossover, dB.
    pub gain_db: f64,
}

impl StageHelp {
    /// What its controller is called in a sentence.
    pub fn controller(&self) -> &'static str {
        match self.ask {
            Ask::Lead(_) => "lead",
            _ => "PID",
        }
    }
}

impl ControllerHelp {
    /// Puts the stages in the path, the first where there is nothing to be replaced, shows the controller, and
    /// sets the summing point.
    pub fn put_in(&self, design: &mut Design) {
        let count = design.stages.len();
        let at = self.replaces.first().map_or(0, |first| (*first).min(count));
        let end = (at + self.replaces.len()).min(count);
        let stages = self.stages.iter().map(|stage| StageDesign {
            circuit: stage.circuit.clone(),
            ask: stage.ask.clone(),
            prefer: IN_A_LOOP,
            ..StageDesign::default()
        });
        design.stages.splice(at..end, stages.collect::<Vec<_>>());
        design.servo.summing = self.summing;
        design.view.stage = at.min(design.stages.len().saturating_sub(1));
    }
}

impl NotchHelp {
    /// Puts the notch in the path, in place of the one to be replaced or behind all stages, and shows it.
    pub fn put_in(&self, design: &mut Design, circuit: &str) {
        let Some(ask) = &self.ask else { return };
        let ask = Ask::Notch(ask.clone());
        let replaced = self.replaces.filter(|place| *place < design.stages.len());
        let place = replaced.unwrap_or(design.stages.len());
        match design.stages.get_mut(place) {
            Some(stage) => {
                stage.ask = ask;
                stage.pins.clear();
                stage.variations.clear();
                stage.choice = 0;
                stage.by_whole = false;
            }
            None => design.stages.push(StageDesign {
                circuit: circuit.to_owned(),
                ask,
                ..StageDesign::default()
            }),
        }
        design.view.stage = place;
    }
}
