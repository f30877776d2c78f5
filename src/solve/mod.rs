//! From a design to an outcome: pure, without clock or browser.
//!
//! [`solve`] does it in one go. The page uses [`Work`], the same in slices: it asks its caller, who has a clock,
//! whether to go on, and when the design changes it keeps what still holds.
//!
//! An outcome is made of findings, each the work of one task: a file here, with what it reads and what it finds, and a
//! line in `TASKS`.

mod at_once;
mod bench;
mod better;
mod board;
mod buy;
mod compare;
mod compensation;
mod contributions;
mod corners;
mod curves;
mod demands;
mod feedback;
mod filter;
mod helper;
mod json;
mod loading;
mod loud;
mod netlist;
mod noise;
mod noise_loop;
mod noise_setting;
mod path;
mod picks;
mod plan;
mod plant;
mod population;
mod proposals;
mod refusal;
mod shaft;
mod slot;
mod slow_bands;
mod spread;
mod stages;
mod summing;
mod supply;
mod task;
mod trade;
mod transfer;
mod unshown;
mod work;

pub use helper::{Helper, Piece};
pub use json::{bands_json, catalogue_json, export_json, extremes_json, pick_json, solve_json};
pub(crate) use picks::noise_limit;
pub use plan::Plan;
pub use work::{Step, Work};

use crate::design::{Design, InputError};
use crate::outcome::Outcome;
use slot::slot;
use task::AnySlot;

/// All tasks, in the order in which they are worked on. Each reads only what stands before it; what the user waits
/// for stands first.
const TASKS: [fn() -> Box<dyn AnySlot>; 26] = [
    slot::<picks::Picks>,
    slot::<stages::Stages>,
    slot::<filter::Filter>,
    slot::<shaft::ShaftModes>,
    slot::<path::Path>,
    slot::<plant::PlantModel>,
    slot::<feedback::Traces>,
    slot::<feedback::Loop>,
    slot::<feedback::MovedLoop>,
    slot::<compensation::WholeHelper>,
    slot::<compensation::NotchAdvice>,
    slot::<compensation::Controller>,
    slot::<supply::SupplyLines>,
    slot::<netlist::PathNetlist>,
    slot::<transfer::Transfers>,
    slot::<noise::Noise>,
    slot::<spread::Boards>,
    slot::<spread::Spread>,
    slot::<feedback::LoopBoards>,
    slot::<bench::Bench>,
    slot::<demands::Demands>,
    slot::<unshown::Unshown>,
    slot::<corners::WorstCase>,
    slot::<contributions::Contributions>,
    slot::<compare::Others>,
    slot::<proposals::Proposals>,
];

/// Solves a design.
///
/// # Errors
/// What the user has to change, when the design cannot be worked on or its ask is out of reach.
pub fn solve(design: &Design) -> Result<Outcome, Vec<InputError>> {
    let mut work = Work::begin(design)?;
    while work.advance(&mut || true) != Step::Done {}
    let errors = work.errors();
    match errors.is_empty() {
        true => Ok(work.outcome().whole()),
        false => Err(errors),
    }
}
