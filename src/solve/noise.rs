//! Noise of each stage, of the path, and what it does round the loop.

use std::sync::Arc;

use super::feedback::{LoopCurves, LoopOf, Traces};
use super::stages::{Line, Stages};
use super::task::{Asked, Before, Blocked, Finding, Seen, Task, Turn};
use super::{noise_loop, noise_setting};
use crate::design::InputError;
use crate::noise::{self, Level, Setting, StageNoise};
use crate::numerics::put_in_order;
use crate::outcome::{
    LoopNoise, NoiseContributor, NoiseDensity, NoiseOutcome, NoiseTotal, Outcome, PathNoise,
    StageNoiseOutcome, StageShare,
};
use crate::plant::PlantUnits;
use crate::stages::Model;

/// So many contributors have their densities told, the largest.
const DRAWN: usize = 5;
/// Where the gain is below so much of its largest in the band, noise is not referred to the input.
const LEAST_GAIN: f64 = 1e-3;

/// All that noise reads.
#[derive(PartialEq)]
pub(super) struct NoiseReads {
    lines: Seen<Vec<Line>>,
    settings: Vec<Setting>,
    limits: Vec<Option<f64>>,
    of: Option<(LoopOf, Seen<LoopCurves>)>,
    units: PlantUnits,
}

/// One stage's noise, and as it is told.
pub(super) struct Stage {
    found: StageNoise,
    outcome: StageNoiseOutcome,
}

/// Stages that are known, and all as it is told; none where a circuit has no answer.
pub(super) struct Found {
    stages: Vec<Option<Arc<Stage>>>,
    told: Option<NoiseOutcome>,
}

/// The work, stage by stage.
pub(super) struct Noise {
    stages: Vec<Option<Arc<Stage>>>,
    /// What is known of the stages, and from what.
    before: Option<Finding<Noise>>,
}

impl Task for Noise {
    const FIELD: &'static str = "noise";
    type Reads = NoiseReads;
    type Finds = Found;

    fn reads(asked: &Asked) -> Result<Option<NoiseReads>, Blocked> {
        let design = asked.design;
        let lines = asked.found::<Stages>()?.filter(|lines| !lines.is_empty());
        // Without the plant there is still the path.
        let of = LoopOf::reads(asked).ok().flatten();
        let traced = asked.found::<Traces>().ok().flatten();
        let stages = design.stages.iter();
        Ok(lines.map(|lines| NoiseReads {
            lines,
            settings: stages
                .clone()
                .map(|stage| noise_setting::of(design, stage))
                .collect(),
            limits: stages.map(|stage| stage.noise_limit).collect(),
            of: of.zip(traced),
            units: design.servo.units.clone(),
        }))
    }

    fn begin(_: &NoiseReads, before: Option<Before<Noise>>) -> Result<Noise, Vec<InputError>> {
        Ok(Noise {
            stages: Vec::new(),
            before: before.and_then(|before| before.found),
        })
    }

    fn advance(&mut self, reads: &NoiseReads, _: &mut dyn FnMut() -> bool) -> Turn<Found> {
        let index = self.stages.len();
        if let (Some(line), Some(setting)) = (reads.lines.get(index), reads.settings.get(index)) {
            let limit = reads.limits[index];
            let stage = match self.known(line, setting, limit) {
                Some(known) => Some(known),
                None => stage(line, setting, limit).map(Arc::new),
            };
            self.stages.push(stage);
            return Turn::More(self.stages.len() as f64 / (reads.lines.len() + 1) as f64);
        }
        let stages = std::mem::take(&mut self.stages);
        let all: Option<Vec<&Stage>> = stages.iter().map(Option::as_deref).collect();
        let told = all.and_then(|all| tell(reads, &all));
        Turn::Found(Found { stages, told })
    }

    fn is_same(first: &Found, second: &Found) -> bool {
        first.told == second.told
    }

    fn tell(_: &NoiseReads, found: &Found, outcome: &mut Outcome) {
        outcome.noise.clone_from(&found.told);
    }
}

impl Noise {
    /// The noise of the same stage as it was worked out before.
    fn known(&self, line: &Line, setting: &Setting, limit: Option<f64>) -> Option<Arc<Stage>> {
        let (of, found) = self.before.as_ref()?;
        let of = of.lines.iter().zip(&of.settings).zip(&of.limits);
        let mut pairs = of.zip(&found.stages);
        let same = pairs.find(|(((known, set), limited), _)| {
            Arc::ptr_eq(&known.found, &line.found) && *set == setting && **limited == limit
        });
        same.and_then(|(_, stage)| stage.clone())
    }
}

fn stage(line: &Line, setting: &Setting, limit: Option<f64>) -> Option<Stage> {
    let grid = noise::grid(setting.band, &line.found.transfers[2]);
    let found = noise::of_stage(&line.real, &line.found.values, setting, grid)?;
    let level = Level::of(&line.real, &line.found.values, setting, &found);
    let outcome = tell_stage(&line.real, &found, limit, level);
    Some(Stage { found, outcome })
}

fn tell_stage(
    model: &Model,
    found: &StageNoise,
    limit: Option<f64>,
    level: Option<Level>,
) -> StageNoiseOutcome {
    let total = found.total();
    let all = noise::rms(&found.frequency, &total);
    let parts = model.netlist.parts();
    let told = found.contributors.iter().map(|one| {
        let rms = noise::rms(&found.frequency, &one.density);
        NoiseContributor {
            part: parts[one.part].name.clone(),
            kind: one.kind,
            rms,
            share: share(rms, all),
            density: noise::roots(&one.density),
        }
    });
    let mut contributors: Vec<NoiseContributor> = told.collect();
    put_in_order(&mut contributors, |a, b| b.rms.total_cmp(&a.rms));
    for small in contributors.iter_mut().skip(DRAWN) {
        small.density = Vec::new();
    }
    let thermal = found.sum(|one| one.kind == noise::NoiseKind::Thermal);
    StageNoiseOutcome {
        total: added_up(&found.frequency, &total, &found.gain),
        density: over_frequency(&found.frequency, &total, &found.gain),
        thermal: noise::roots(&thermal),
        limit,
        level,
        contributors,
    }
}

fn tell(reads: &NoiseReads, stages: &[&Stage]) -> Option<NoiseOutcome> {
    let setting = reads.settings.first()?;
    Some(NoiseOutcome {
        from: setting.band.0,
        to: setting.band.1,
        kelvin: setting.kelvin,
        path: path(&reads.lines, stages),
        looped: looped(reads, setting.band, stages),
        stages: stages.iter().map(|stage| stage.outcome.clone()).collect(),
    })
}

fn looped(reads: &NoiseReads, band: (f64, f64), stages: &[&Stage]) -> Option<LoopNoise> {
    let (of, curves) = reads.of.as_ref()?;
    let grids: Vec<&[f64]> = stages
        .iter()
        .map(|stage| &stage.found.frequency[..])
        .collect();
    let at_output = |frequencies: &[f64]| behind(&reads.lines, stages, frequencies);
    noise_loop::looped((of, curves), &reads.units, band, &grids, at_output)
}

fn path(lines: &[Line], stages: &[&Stage]) -> PathNoise {
    let frequency = noise::together(stages.iter().map(|stage| &stage.found.frequency[..]));
    let each = behind(lines, stages, &frequency);
    let total: Vec<f64> = (0..frequency.len())
        .map(|k| each.iter().map(|one| one[k]).sum())
        .collect();
    let all = noise::rms(&frequency, &total);
    let gain = frequency.iter().map(|f| {
        let gains = lines.iter().map(|line| line.found.transfers[2].at(*f));
        gains.map(|gain| gain.norm()).product()
    });
    let gain: Vec<f64> = gain.collect();
    PathNoise {
        total: added_up(&frequency, &total, &gain),
        density: over_frequency(&frequency, &total, &gain),
        stages: each
            .iter()
            .map(|density| {
                let rms = noise::rms(&frequency, density);
                StageShare {
                    rms,
                    share: share(rms, all),
                    density: noise::roots(density),
                }
            })
            .collect(),
    }
}

/// What each stage's noise comes to at the path's output, V²/Hz over these frequencies (Hz).
fn behind(lines: &[Line], stages: &[&Stage], frequencies: &[f64]) -> Vec<Vec<f64>> {
    let mut each = Vec::with_capacity(stages.len());
    let mut gain = vec![1.0; frequencies.len()];
    for (stage, line) in stages.iter().zip(lines).rev() {
        let total = stage.found.total();
        let own = frequencies.iter().zip(&gain).map(|(f, gain)| {
            let density = noise::at(&stage.found.frequency, &total, *f);
            density * gain
        });
        each.push(own.collect());
        for (gain, f) in gain.iter_mut().zip(frequencies) {
            *gain *= line.found.transfers[2].at(*f).norm_sqr();
        }
    }
    each.reverse();
    each
}

fn over_frequency(frequency: &[f64], total: &[f64], gain: &[f64]) -> NoiseDensity {
    let most = gain.iter().copied().fold(0.0, f64::max);
    let output = noise::roots(total);
    let referred = output.iter().zip(gain).map(|(output, gain)| {
        let is_passed = *gain > 0.0 && *gain >= LEAST_GAIN * most;
        is_passed.then(|| output / gain)
    });
    NoiseDensity {
        frequency: frequency.to_vec(),
        input: referred.collect(),
        output,
    }
}

fn added_up(frequency: &[f64], total: &[f64], gain: &[f64]) -> NoiseTotal {
    let rms = noise::rms(frequency, total);
    let most = gain.iter().zip(frequency);
    let most = most.max_by(|a, b| a.0.total_cmp(b.0));
    let (gain, gain_at) = most.map_or((0.0, 0.0), |(gain, at)| (*gain, *at));
    NoiseTotal {
        rms,
        gain,
        gain_at,
        input_rms: (gain > 0.0).then(|| rms / gain),
    }
}

/// Of the mean square; of nothing there is no share.
fn share(rms: f64, all: f64) -> f64 {
    if all > 0.0 { (rms / all).powi(2) } else { 0.0 }
}
