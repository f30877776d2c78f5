//! Densities of noise over frequency, both axes logarithmic.

use super::plot::{Axis, Pen, Plot};
use super::ticks::log_ticks;
use crate::outcome::{LoopNoise, NoiseDensity, NoiseOutcome, StageNoiseOutcome};
use crate::quantity::Unit;

/// How much of the axis is shown below its top at most, decades.
const DEEP: f64 = 4.0;
/// The same of what is referred to an input, which rises without bound where a notch lets nothing through.
const DEEP_REFERRED: f64 = 7.0;
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
    lines.push((along(frequency, &found.density.output), Pen::Real));
    plot(lines, VOLTS, DEEP)
}

/// The path's noise at its output: all of it, and each stage's.
pub fn path(found: &NoiseOutcome) -> Option<Plot> {
    let path = &found.path;
    let frequency = &path.density.frequency;
    let stages = path.stages.iter();
    let lines = stages.map(|stage| (along(frequency, &stage.density), Pen::Guide));
    let whole = (along(frequency, &path.density.output), Pen::Real);
    plot(lines.chain([whole]).collect(), VOLTS, DEEP)
}

/// Noise referred to the input; where it is not, the line is left out.
pub fn referred(density: &NoiseDensity) -> Option<Plot> {
    let inputs = density.input.iter().map(|input| input.unwrap_or(0.0));
    let all: Vec<(f64, f64)> = density.frequency.iter().copied().zip(inputs).collect();
    let runs = all.split(|(_, input)| *input <= 0.0);
    let runs = runs.filter(|run| run.len() > 1);
    let line = |run: &[(f64, f64)]| run.iter().map(|(f, y)| (f.log10(), y.log10())).collect();
    plot(
        runs.map(|run| (line(run), Pen::Real)).collect(),
        VOLTS,
        DEEP_REFERRED,
    )
}

/// What the path's noise makes of the drive.
pub fn drive(found: &LoopNoise) -> Option<Plot> {
    let line = along(&found.frequency, &found.drive);
    plot(vec![(line, Pen::Real)], Unit::One, DEEP)
}

/// And of the position.
pub fn position(found: &LoopNoise) -> Option<Plot> {
    let line = along(&found.frequency, &found.position);
    plot(vec![(line, Pen::Real)], Unit::One, DEEP)
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

/// Lines over each other, the last on top; the vertical axis ends at most so many decades below its top.
fn plot(lines: Vec<Line>, unit: Unit, deep: f64) -> Option<Plot> {
    let points = || lines.iter().flat_map(|(line, _)| line);
    let (first, last) = ends(points().map(|(x, _)| *x));
    let (lowest, highest) = ends(points().map(|(_, y)| *y));
    let (low, high) = (lowest.max(highest - deep) - ROOM, highest + ROOM);
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

/// The least and the largest.
fn ends(all: impl Iterator<Item = f64>) -> (f64, f64) {
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
        (one.min(low), one.max(high))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_splits_the_line_and_leaves_the_axis() {
        let frequency: Vec<f64> = (0..=40).map(|k| 10f64.powf(f64::from(k) / 10.0)).collect();
        let gap = 20..25;
        let inputs = (0..=40).map(|k| (!gap.contains(&k)).then_some(1e-8));
        let density = NoiseDensity {
            output: vec![1e-8; 41],
            input: inputs.collect(),
            frequency,
        };
        let plot = referred(&density).expect("a plot");
        let counts: Vec<usize> = plot.lines.iter().map(|(line, _)| line.len()).collect();
        assert_eq!(counts, [20, 16]);
        assert_eq!((plot.x.low, plot.x.high), (0.0, 4.0));
        let nothing = NoiseDensity {
            input: vec![None; 41],
            ..density
        };
        assert!(referred(&nothing).is_none());
    }
}
