//! Circuit analysis: what a netlist does, as a rational function of s, and what is read off it.
//!
//! A package of its own, so that it is built for speed where all round it is built for size: nearly all of the
//! time that picks and boards take is spent here.
//!
//! - [`numerics`]: searches along one number: bisection, golden section
//! - [`response`]: rational functions of s, and figures read off a curve
//! - [`circuit`]: netlists, and their expansion into a transfer function

pub mod circuit;
pub mod numerics;
pub mod response;
