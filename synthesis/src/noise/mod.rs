//! Noise of stages: what each part adds at a stage's output, over frequency and over a band.
//!
//! Parts that stand for what a stage works between make no noise here: a source's own noise is the source's, and what
//! drives a stage is mostly an op amp, whose output resistance is none of a resistor.

mod curve;
mod grid;
mod level;
mod powers;
mod rule;
mod setting;
mod stage;

pub use curve::{at, rms, roots, together};
pub use grid::{grid, grid_of};
pub use level::{Level, LevelRow, impedance};
pub use powers::{NoisePowers, powers, powers_of};
pub use rule::rule;
pub use setting::Setting;
pub use stage::{Contributor, NoiseKind, StageNoise, of_stage, output_rms};
