//! The loop round the plant: its curves and margins, its motion, all of it over boards.

mod boards;
mod loop_of;
mod looped;
mod motion;
mod traces;

pub(super) use boards::LoopBoards;
pub(super) use loop_of::{LoopOf, ModelledLoop};
pub(super) use looped::Loop;
pub(super) use motion::MovedLoop;
use traces::TracedLoop;
pub(super) use traces::{Curves as LoopCurves, Traces};
