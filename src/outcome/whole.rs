//! Help with the loop as a whole, and how it is put in the path.

use serde::{Deserialize, Serialize};

use crate::compensation::{Nearest, Reading, RunnerUp, WholeStage};
use crate::design::{Design, StageDesign, Summing};
use crate::pick::IN_A_LOOP;

/// Controller, notches and low-pass for the loop that is asked for as a whole.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WholeHelp {
    /// In sentences, loudest first.
    pub told: Vec<String>,
    /// Whether the loop with these stages holds the whole ask, by parts off the shelf with the real op amp.
    pub holds: bool,
    /// What to put in the path, in signal order; what comes nearest where nothing holds the ask, and empty where
    /// nothing can be built.
    pub stages: Vec<WholeStage>,
    /// What the summing point must do with these circuits in the path.
    pub summing: Summing,
    /// The controller as the trade calls it, and one sentence on why it is this one.
    pub form: Option<String>,
    pub why: Option<String>,
    /// What is read off the loop with these stages: crossover, margin, what is left of each peak.
    pub reading: Option<Reading>,
    /// Phase margin of ideal parts with the same controller and notches, degrees.
    pub ideal_margin: Option<f64>,
    /// The highest gain of these stages above the crossover over that at the crossover, dB, of ideal parts.
    pub noise_gain_db: Option<f64>,
    /// Where the ask is out of reach: what can be had with two of its three wishes kept.
    pub nearest: Option<Nearest>,
    /// The highest crossover below the first mode of a plant that is stiff below it, Hz, where the one that is asked
    /// for lies at that mode or not far above.
    pub below_first: Option<f64>,
    /// Other controllers in short, best first.
    pub runners_up: Vec<RunnerUp>,
    /// Stages of the path, from 0, which an earlier answer put in: left out here and to be replaced.
    pub replaces: Vec<usize>,
    /// How the loop as it is now stands to the ask.
    pub now: Option<WholeNow>,
}

/// How the loop as it is stands to the ask.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WholeNow {
    /// Whether it holds the whole ask.
    pub holds: bool,
    /// What is off, in sentences, loudest first.
    pub off: Vec<String>,
    /// What is read off it.
    pub reading: Option<Reading>,
    /// Whether an earlier answer is in the path.
    pub is_in: bool,
}

impl WholeHelp {
    /// Takes out what an earlier answer put in, puts these stages in its place or before all others, shows the first
    /// of them, and sets the summing point. Stages of the user's own stay as they are. Without stages nothing
    /// changes.
    pub fn put_in(&self, design: &mut Design) {
        if self.stages.is_empty() {
            return;
        }
        let is_earlier = |stage: &StageDesign| stage.by_whole;
        let at = design.stages.iter().position(is_earlier).unwrap_or(0);
        design.stages.retain(|stage| !stage.by_whole);
        let stages = self.stages.iter().map(|stage| StageDesign {
            circuit: stage.circuit.clone(),
            ask: stage.ask.clone(),
            prefer: IN_A_LOOP,
            by_whole: true,
            ..StageDesign::default()
        });
        design.stages.splice(at..at, stages.collect::<Vec<_>>());
        design.servo.summing = self.summing;
        design.view.stage = at;
    }
}
