//! The program against somebody else's method: each check names its source.

mod advice;
mod asks;
mod catalogue;
mod circuit;
mod control;
mod drawing;
mod filter;
mod fit;
mod loop_boards;
mod loops;
mod motion;
mod netlists;
mod notch;
mod notches;
mod parts;
mod pick;
mod prototypes;
mod reference;
mod response;
mod second_order;
mod shaft;
mod shaped;
mod shaping;
mod spine;
mod spread;
mod sweep;
