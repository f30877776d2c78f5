//! The noise near a set of parts, for what is held against a limit.

use super::{Setting, grid_of, output_rms, stage::inputs_rms};
use crate::stages::{Model, NoiseRule};

/// Of a number's logarithm, for its power.
const NUDGE: f64 = 1e-3;
/// Points a decade where only a ratio of two sums is wanted.
const COARSE: f64 = 6.0;

/// What noise does near these part values, and its limit (V rms); none where it cannot be worked out. Op amps' numbers
/// count by their own powers, as resistors and capacitors do.
pub fn rule(model: &Model, values: &[f64], setting: &Setting, limit: f64) -> Option<NoiseRule> {
    let response = model.transfer(values);
    let rms = output_rms(model, values, setting, super::grid(setting.band, &response))?;
    let coarse = grid_of(setting.band, &response, COARSE);
    let mut numbers = Vec::new();
    model.inputs(values, &mut numbers);
    let middle = inputs_rms(model, &numbers, setting, &coarse)?;
    let power = |at: usize| {
        let mut nudged = numbers.clone();
        nudged[at] *= 1.0 + NUDGE;
        let moved = inputs_rms(model, &nudged, setting, &coarse)?;
        let power = (moved / middle).ln() / NUDGE.ln_1p();
        Some(if power.is_finite() { power } else { 0.0 })
    };
    let powers = (0..numbers.len())
        .map(power)
        .collect::<Option<Vec<f64>>>()?;
    Some(NoiseRule {
        rms,
        limit,
        numbers,
        powers,
    })
}
