//! Densities of noise over frequency, both axes logarithmic.

use super::plot::{Axis, Pen, Plot};
use super::ticks::log_ticks;
use crate::outcome::{LoopNoise, NoiseDensity, NoiseOutcome, StageNoiseOutcome};
use crate::quantity::Unit;

/// How much of the axis is shown below its top at most, decades.
const DEEP: f64 = 4.0;
/// And what is left free above and below, decades.
const ROOM: f64 = 0.1;

/// A stage's noise at its own output: all of it, its resistors alone, and its largest contributors.
pub fn stage(found: &StageNoiseOutcome) -> Option<Plot> {
    let frequency = &found.density.frequency;
    let drawn = found.contributors.iter().rev();
    let drawn = drawn.filter(|one| !one.density.is_empty());
    let mut lines: Vec<Line> = drawn
        .map(|one| (along(frequency, &one.density), Pen::Guide))
        .collect();
    lines.push((along(frequency, &found.thermal), Pen::Ideal));
    plot(lines, along(frequency, &found.density.output), VOLTS)
}

/// The path's noise at its output: all of it, and each stage's.
pub fn path(found: &NoiseOutcome) -> Option<Plot> {
    let path = &found.path;
    let frequency = &path.density.frequency;
    let stages = path.stages.iter();
    let lines = stages.map(|stage| (along(frequency, &stage.density), Pen::Guide));
    plot(
        lines.collect(),
        along(frequency, &path.density.output),
        VOLTS,
    )
}

/// Noise referred to the input; where it is not, the line is left out.
pub fn referred(density: &NoiseDensity) -> Option<Plot> {
    let lg: Vec<(f64, Option<f64>)> = density
        .frequency
        .iter()
        .copied()
        .zip(density.input.clone())
        .collect();
    let runs = lg.split(|(_, input)| input.is_none());
    let runs = runs.filter(|run| run.len() > 1).map(|run| {
        let points = run
            .iter()
            .filter_map(|(f, input)| Some((f.log10(), (*input)?)));
        let points = points.filter(|(_, input)| *input > 0.0);
        points.map(|(f, input)| (f, input.log10())).collect()
    });
    let mut runs: Vec<Vec<(f64, f64)>> = runs.collect();
    let longest = runs
        .iter()
        .map(Vec::len)
        .enumerate()
        .max_by_key(|(_, long)| *long);
    let longest = longest.map(|(place, _)| runs.swap_remove(place))?;
    let lines = runs.into_iter().map(|run| (run, Pen::Real)).collect();
    plot(lines, longest, VOLTS)
}

/// What the path's noise makes of the drive.
pub fn drive(found: &LoopNoise) -> Option<Plot> {
    plot(Vec::new(), along(&found.frequency, &found.drive), Unit::One)
}

/// And of the position.
pub fn position(found: &LoopNoise) -> Option<Plot> {
    plot(
        Vec::new(),
        along(&found.frequency, &found.position),
        Unit::One,
    )
}

/// Ticks say volts; the heading says that they are per √Hz.
const VOLTS: Unit = Unit::Volt;

type Line = (Vec<(f64, f64)>, Pen);

/// Decimal logarithms of a density over those of the frequency; what is 0 is left out.
fn along(frequency: &[f64], density: &[f64]) -> Vec<(f64, f64)> {
    let points = frequency.iter().zip(density);
    let points = points.filter(|(_, density)| **density > 0.0);
    points
        .map(|(f, density)| (f.log10(), density.log10()))
        .collect()
}

/// The whole over its parts; the axis ends at [`DEEP`] below the top.
fn plot(mut lines: Vec<Line>, whole: Vec<(f64, f64)>, unit: Unit) -> Option<Plot> {
    let (first, last) = (whole.first()?.0, whole.last()?.0);
    lines.push((whole, Pen::Real));
    let heights = lines
        .iter()
        .flat_map(|(line, _)| line.iter().map(|(_, y)| *y));
    let ends = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| {
        (y.min(low), y.max(high))
    });
    let (low, high) = (ends.0.max(ends.1 - DEEP) - ROOM, ends.1 + ROOM);
    let axis = |low: f64, high: f64, unit| Axis {
        low,
        high,
        ticks: log_ticks(low, high, unit),
    };
    let plot = Plot {
        x: axis(first, last, Unit::Hertz),
        y: axis(low, high, unit),
        lines,
        ..Plot::default()
    };
    (plot.x.has_length() && plot.y.has_length()).then_some(plot)
}
