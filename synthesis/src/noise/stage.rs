//! What each part of a stage adds to the noise at its output.

use serde::{Deserialize, Serialize};

use super::{Setting, rms};
use crate::circuit::Kind;
use crate::circuit::noise::{OpAmpNoise, Origin, origins, output_noise};
use crate::stages::Model;

/// What makes noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoiseKind {
    /// A resistor's thermal noise.
    Thermal,
    /// An op amp's voltage noise.
    Voltage,
    /// Its current noise, at both inputs.
    Current,
}

/// One part's noise at the output.
#[derive(Clone, Debug, PartialEq)]
pub struct Contributor {
    /// The part's place in the netlist.
    pub part: usize,
    pub kind: NoiseKind,
    /// V²/Hz, over the frequencies.
    pub density: Vec<f64>,
}

/// The noise of one stage at its own output.
#[derive(Clone, Debug, PartialEq)]
pub struct StageNoise {
    /// Hz, rising.
    pub frequency: Vec<f64>,
    /// |H| from the signal's input.
    pub gain: Vec<f64>,
    /// In the order of the netlist's parts.
    pub contributors: Vec<Contributor>,
}

impl StageNoise {
    /// The sum of some contributors' densities, V²/Hz.
    pub fn sum(&self, is_meant: impl Fn(&Contributor) -> bool) -> Vec<f64> {
        let mut sum = vec![0.0; self.frequency.len()];
        for one in self.contributors.iter().filter(|one| is_meant(one)) {
            for (sum, density) in sum.iter_mut().zip(&one.density) {
                *sum += density;
            }
        }
        sum
    }

    /// The sum of all densities, V²/Hz.
    pub fn total(&self) -> Vec<f64> {
        self.sum(|_| true)
    }
}

/// A stage's noise with these part values (one a part, Ω or F) over frequencies (Hz, above 0); none where its circuit has no
/// single answer at one of them, or no finite one.
pub fn of_stage(
    model: &Model,
    values: &[f64],
    setting: &Setting,
    frequency: Vec<f64>,
) -> Option<StageNoise> {
    let mut inputs = Vec::new();
    model.inputs(values, &mut inputs);
    of_inputs(model, &inputs, setting, frequency)
}

/// The same by the numbers that the stage's programs take.
fn of_inputs(
    model: &Model,
    inputs: &[f64],
    setting: &Setting,
    frequency: Vec<f64>,
) -> Option<StageNoise> {
    let (mut contributors, places) = contributors(model, frequency.len());
    let mut gain = Vec::with_capacity(frequency.len());
    let op_amp = of_op_amps(model, setting);
    for &f in &frequency {
        let found = output_noise(&model.netlist, inputs, &op_amp, f, setting.kelvin)?;
        let mut added = vec![0.0; contributors.len()];
        for (place, density) in places.iter().zip(&found.densities) {
            if let Some(place) = place {
                added[*place] += density;
            }
        }
        let own = found.gains.first()?.norm();
        if !own.is_finite() || added.iter().any(|density| !density.is_finite()) {
            return None;
        }
        gain.push(own);
        for (one, density) in contributors.iter_mut().zip(added) {
            one.density.push(density);
        }
    }
    Some(StageNoise {
        frequency,
        gain,
        contributors,
    })
}

/// Noise at the output over the band of the frequencies, V rms; as [`of_stage`].
pub fn output_rms(
    model: &Model,
    values: &[f64],
    setting: &Setting,
    frequency: Vec<f64>,
) -> Option<f64> {
    let found = of_stage(model, values, setting, frequency)?;
    Some(rms(&found.frequency, &found.total()))
}

/// Noise at the output by the numbers that the stage's programs take, V rms.
pub(super) fn inputs_rms(
    model: &Model,
    inputs: &[f64],
    setting: &Setting,
    frequency: &[f64],
) -> Option<f64> {
    let found = of_inputs(model, inputs, setting, frequency.to_vec())?;
    Some(rms(&found.frequency, &found.total()))
}

/// The noise of the op amp at a place in the netlist.
fn of_op_amps(model: &Model, setting: &Setting) -> impl Fn(usize) -> OpAmpNoise {
    let mut own = setting.op_amps.iter().copied();
    let parts = model.netlist.parts().iter();
    let all: Vec<OpAmpNoise> = parts
        .map(|part| match part.kind {
            Kind::OpAmp { .. } => own.next().unwrap_or_default(),
            _ => OpAmpNoise::default(),
        })
        .collect();
    move |place| all.get(place).copied().unwrap_or_default()
}

/// A model's contributors without densities, and for each of its origins whose it is.
fn contributors(model: &Model, count: usize) -> (Vec<Contributor>, Vec<Option<usize>>) {
    let mut all: Vec<Contributor> = Vec::new();
    let places = origins(&model.netlist).into_iter().map(|origin| {
        let (part, kind) = match origin {
            Origin::Thermal(part) => (part, NoiseKind::Thermal),
            Origin::Voltage(part) => (part, NoiseKind::Voltage),
            Origin::Plus(part) | Origin::Minus(part) => (part, NoiseKind::Current),
        };
        if kind == NoiseKind::Thermal && !model.bought[part] {
            return None;
        }
        let known = |one: &Contributor| one.part == part && one.kind == kind;
        let known = all.iter().position(known);
        Some(known.unwrap_or_else(|| {
            all.push(Contributor {
                part,
                kind,
                density: Vec::with_capacity(count),
            });
            all.len() - 1
        }))
    });
    let places = places.collect();
    (all, places)
}
