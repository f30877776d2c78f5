//! What the path's noise does round the loop.
//!
//! The path's input is what the summing point makes of reference and feedback, and the reference rests. A noise at a stage's
//! output passes all that stand behind it to the plant's input, where the loop answers it: the drive is that noise times
//! 1/(1 + L), and the position is the drive times the plant (G. Franklin, J. Powell, A. Emami-Naeini, "Feedback Control of
//! Dynamic Systems", ch. 4, from memory).

use super::feedback::{LoopCurves, LoopOf};
use crate::feedback::{OpenLoop, Traced};
use crate::noise::{rms, roots, together};
use crate::numerics::put_in_order;
use crate::outcome::{LoopNoise, LoopNoiseShare};
use crate::plant::PlantUnits;

/// So many groups of points are drawn at most; all count for the sums.
const MOST_DRAWN: usize = 600;

/// `grids` are the stages' frequencies (Hz), and `behind` what each stage's noise comes to at the path's output over
/// frequencies, V²/Hz. None where the plant is not known at all.
pub(super) fn looped(
    (of, curves): (&LoopOf, &LoopCurves),
    units: &PlantUnits,
    (from, to): (f64, f64),
    grids: &[&[f64]],
    behind: impl Fn(&[f64]) -> Vec<Vec<f64>>,
) -> Option<LoopNoise> {
    let modelled = of.modelled();
    let (open, traced, is_measured): (OpenLoop, &[Traced], bool) =
        match (&modelled, curves.modelled.as_ref()) {
            (Some(of), Some(traced)) => (of.open(), traced, false),
            _ => (of.measured()?, curves.measured.as_deref()?, true),
        };
    let reach = open.plant.reach().unwrap_or((from, to));
    let (from, to) = (from.max(reach.0), to.min(reach.1));
    let mut told = LoopNoise {
        why: None,
        is_measured,
        from,
        to,
        frequency: Vec::new(),
        drive: Vec::new(),
        position: Vec::new(),
        drive_rms: 0.0,
        position_rms: 0.0,
        stages: Vec::new(),
        units: units.of_noise(),
    };
    let why = if from >= to {
        Some("The sweep tells nothing of the plant within the noise's band.")
    } else if open.unstable_poles(traced).is_some_and(|poles| poles > 0) {
        Some("The loop is not stable: its noise grows without end.")
    } else {
        let frequency = points(traced, grids, (from, to));
        match Answer::of(&open, &frequency) {
            None => Some("The loop stands on the edge of being stable."),
            Some(answer) => {
                add_up(&mut told, &frequency, &behind(&frequency), &answer);
                None
            }
        }
    };
    told.why = why.map(str::to_owned);
    Some(told)
}

/// Frequencies (Hz) of stages and loop within the band, and its ends.
fn points(traced: &[Traced], grids: &[&[f64]], (from, to): (f64, f64)) -> Vec<f64> {
    let curve: Vec<f64> = traced.iter().map(|point| point.frequency).collect();
    let ends = [from, to];
    let mut frequency = together(grids.iter().copied().chain([&curve[..], &ends[..]]));
    frequency.retain(|f| (from..=to).contains(f));
    frequency
}

/// What the loop makes of a noise at the path's output, over frequencies: factors of its density.
struct Answer {
    drive: Vec<f64>,
    position: Vec<f64>,
}

impl Answer {
    /// None where it has no bound.
    fn of(open: &OpenLoop, frequency: &[f64]) -> Option<Answer> {
        let drive = |f: &f64| 1.0 / (1.0 + open.at(*f)).norm_sqr();
        let drive: Vec<f64> = frequency.iter().map(drive).collect();
        let through = frequency.iter().zip(&drive);
        let position = through.map(|(f, drive)| drive * open.plant.at(*f).norm_sqr());
        let position: Vec<f64> = position.collect();
        let mut all = drive.iter().chain(&position);
        all.all(|factor| factor.is_finite())
            .then_some(Answer { drive, position })
    }
}

/// Sums over all stages and of each alone, and the curves; `each` are the stages' densities, V²/Hz.
fn add_up(told: &mut LoopNoise, frequency: &[f64], each: &[Vec<f64>], answer: &Answer) {
    let total: Vec<f64> = (0..frequency.len())
        .map(|k| each.iter().map(|one| one[k]).sum())
        .collect();
    let both = |density: &[f64]| [&answer.drive, &answer.position].map(|of| times(density, of));
    let [drive, position] = both(&total);
    told.drive_rms = rms(frequency, &drive);
    told.position_rms = rms(frequency, &position);
    let share = |own: &Vec<f64>| {
        let [drive_rms, position_rms] = both(own).map(|density| rms(frequency, &density));
        LoopNoiseShare {
            drive_rms,
            position_rms,
        }
    };
    told.stages = each.iter().map(share).collect();
    let kept = drawn(&drive, &position);
    let of = |all: &[f64]| kept.iter().map(|at| all[*at]).collect::<Vec<f64>>();
    (told.drive, told.position) = (roots(&of(&drive)), roots(&of(&position)));
    told.frequency = of(frequency);
}

fn times(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a * b).collect()
}

/// Places of the points that are drawn: of each few neighbours the highest of either, and both ends.
fn drawn(drive: &[f64], position: &[f64]) -> Vec<usize> {
    let count = drive.len();
    let few = count.div_ceil(MOST_DRAWN).max(1);
    let mut kept = vec![0, count - 1];
    for first in (0..count).step_by(few) {
        for of in [drive, position] {
            let some = first..(first + few).min(count);
            kept.extend(some.max_by(|a, b| of[*a].total_cmp(&of[*b])));
        }
    }
    put_in_order(&mut kept, usize::cmp);
    kept.dedup();
    kept
}
