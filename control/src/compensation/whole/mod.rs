//! The loop as a whole: controller, notches and low-pass for one crossover, one margin and quiet peaks.
//!
//! Worked out one after the other they undo each other: a notch takes phase that the controller must give, the
//! controller's phase is gain at the modes, and that is a wider notch. Here a controller is tried together with
//! all notches that it needs ([`trial`], [`seating`]), its phase is raised until the margin is there ([`tune`]), each form
//! that suits the plant is worked through with and without a low-pass ([`search`]), and the best is built of
//! parts off the shelf and corrected until the loop holds the wish with them ([`build`]), as a reading of the
//! whole loop says ([`reading`]). Where nothing holds it, it is looked for what does when one of the three wishes
//! gives way ([`nearest`]).
//! Gain and phase stabilisation: Franklin, Powell and Emami-Naeini, "Feedback Control of Dynamic Systems", 6.7 and
//! 10.2, from memory.

mod bought;
mod build;
mod candidate;
mod choice;
mod dip;
mod ground;
mod known;
mod low_pass;
mod nearest;
mod off;
mod over;
mod path;
mod peak;
mod phases;
mod reading;
mod replay;
mod search;
mod seating;
mod setting;
mod stroll;
mod told;
mod trial;
mod tried;
mod tune;
mod wander;
mod wish;
mod work;

use serde::{Deserialize, Serialize};

pub use build::WholeShop;
pub use dip::Dip;
pub use path::{PathStage, WholeLoop, acts_on};
pub use reading::{ALLOWANCE, PeakReading, Reader, Reading};
pub use wish::{RollOff, WholeError, WholeWish, WishedForm};
pub use work::WholeWork;

use super::ControllerForm;
use crate::stages::Ask;

/// Stages for the loop as a whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Whole {
    /// In signal order; empty where nothing could be built.
    pub stages: Vec<WholeStage>,
    /// Whether the summing point must add, with these circuits in the path.
    pub adds: bool,
    /// The controller, where there is one.
    pub form: Option<ControllerForm>,
    /// Why this one.
    pub why: String,
    /// Whether the loop with these stages holds the whole wish.
    pub holds: bool,
    /// The loop with these stages.
    pub reading: Option<Reading>,
    /// Up to where its margin may come, degrees: more than is asked where the controller has no less phase.
    pub most_margin: f64,
    /// Phase margin of ideal parts with the same controller and notches, degrees.
    pub ideal_margin: Option<f64>,
    /// The highest gain of the stages above the crossover over that at the crossover, dB, of ideal parts.
    pub noise_gain_db: Option<f64>,
    /// Where the wish is out of reach, what would be within.
    pub nearest: Option<Nearest>,
    /// The highest crossover below the first mode of a plant that is stiff below it, Hz, where the wished one
    /// lies at that mode or not far above.
    pub below_first: Option<f64>,
    /// Other controllers, best first.
    pub runners_up: Vec<RunnerUp>,
    /// All of it in sentences, loudest first.
    pub told: Vec<String>,
}

/// A stage of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WholeStage {
    pub circuit: String,
    #[serde(with = "crate::tagged")]
    pub ask: Ask,
    pub role: Role,
    /// Its gain at the wanted crossover, dB.
    pub gain_db: f64,
    /// Its phase there, degrees, an inversion left aside.
    pub phase_deg: f64,
}

/// What a stage is there for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// By the trade's name of its form.
    Controller(String),
    Amplifier,
    /// For a mode by its place among the model's, from 0.
    Notch {
        mode: usize,
    },
    LowPass,
}

/// What can be had where the whole wish cannot, each time the other two wishes kept: of ideal parts, with so much
/// in reserve as real ones took where ideal ones would hold the wish.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Nearest {
    /// The largest phase margin at the wanted crossover, degrees.
    pub phase_margin: Option<f64>,
    /// The highest crossover below the wanted one, Hz.
    pub crossover: Option<f64>,
    /// By how much all peaks' levels would have to be higher, dB.
    pub easier_db: Option<f64>,
}

/// Another controller in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunnerUp {
    pub form: String,
    /// Order of the low-pass in it.
    pub low_pass: Option<u32>,
    /// Degrees, of ideal parts.
    pub phase_margin: f64,
    /// Stages, amplifiers counted in as far as is known beforehand.
    pub stages: usize,
    pub noise_gain_db: f64,
    /// Whether it would hold the wish.
    pub holds: bool,
    /// Whether parts of the shelf were tried for it and did not hold it.
    pub failed: bool,
}
