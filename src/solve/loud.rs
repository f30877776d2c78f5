//! What is said where a set's noise is above its limit: by how much, and what would be enough.

use crate::noise::{self, StageNoise, impedance};
use crate::pick::NoiseLimit;
use crate::quantity::{Unit, rounded};
use crate::stages::Model;

/// Line by line; nothing where the set holds the limit.
pub(super) fn told(model: &Model, values: &[f64], limit: &NoiseLimit) -> Vec<String> {
    let grid = noise::grid(limit.setting.band, &model.transfer(values));
    let Some(found) = noise::of_stage(model, values, &limit.setting, grid) else {
        return vec!["The noise of this circuit cannot be worked out.".to_owned()];
    };
    let rms = noise::rms(&found.frequency, &found.total());
    if rms <= limit.highest {
        return Vec::new();
    }
    let volts = |value: f64| rounded(value, Unit::Volt, 3);
    let mut told = vec![format!(
        "Noise at the output is {} rms and {} is the most: {} times as much.",
        volts(rms),
        volts(limit.highest),
        rounded(rms / limit.highest, Unit::One, 3)
    )];
    let enough: Vec<String> = [
        lower_impedance(model, values, limit),
        quieter_op_amp(model, values, limit),
        narrower_band(&found, limit),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !enough.is_empty() {
        told.push("Each of these alone is enough:".to_owned());
        told.extend(enough.into_iter().map(|one| format!("· {one}")));
    }
    told
}

/// All parts scaled: what is said is rounded down, so that it is enough.
fn lower_impedance(model: &Model, values: &[f64], limit: &NoiseLimit) -> Option<String> {
    let level = impedance(model, values)?;
    let powers = noise::powers(model, values, &limit.setting)?;
    let factor = powers.factor_for(limit.highest * limit.highest)?;
    Some(format!(
        "an impedance level of {} instead of {}, which off this shelf breaks another limit or takes fixed parts along",
        rounded(0.95 * factor * level, Unit::Ohm, 2),
        rounded(level, Unit::Ohm, 2)
    ))
}

fn quieter_op_amp(model: &Model, values: &[f64], limit: &NoiseLimit) -> Option<String> {
    let powers = noise::powers(model, values, &limit.setting)?;
    let left = limit.highest * limit.highest - powers.thermal - powers.current;
    if left <= 0.0 || powers.voltage <= 0.0 {
        return None;
    }
    let factor = 0.98 * (left / powers.voltage).sqrt();
    let own = limit.setting.op_amps.iter().map(|own| own.voltage);
    let loudest = own.fold(0.0, f64::max);
    Some(format!(
        "op amps with {} of the voltage noise, {} where it was {}",
        rounded(factor, Unit::Percent, 2),
        rounded(factor * loudest, Unit::VoltPerRootHertz, 2),
        rounded(loudest, Unit::VoltPerRootHertz, 2)
    ))
}

/// Up to where noise may be added up.
fn narrower_band(found: &StageNoise, limit: &NoiseLimit) -> Option<String> {
    let total = found.total();
    let is_within =
        |points: usize| noise::rms(&found.frequency[..points], &total[..points]) <= limit.highest;
    let points = (2..found.frequency.len())
        .rev()
        .find(|points| is_within(*points))?;
    Some(format!(
        "noise added up to {} only",
        rounded(found.frequency[points - 1], Unit::Hertz, 2)
    ))
}
