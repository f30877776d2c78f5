//! A loop's curve, followed closely enough to read anything off it.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::OpenLoop;
use super::margins::{highest, may_touch};
use crate::numerics::{modulus, put_in_order, zero};
use crate::plant::Plant;
use crate::response::resolving_grid;

/// Points a decade before the curve itself asks for more.
const PER_DECADE: f64 = 24.0;
/// Between two points neither L nor 1 + L turns further than 20°; its tangent.
const TURN: f64 = 0.364;
/// And neither |L| nor |1 + L| changes by more than this factor.
const STRETCH: f64 = 1.6;
/// Where |L| is smaller at both ends, its own turning says nothing that matters; −60 dB.
pub(super) const SMALL: f64 = 1e-3;
/// Halvings of an interval at most; what bends more sharply stays coarse.
const DEEPEST: u32 = 24;
/// Points at most. Past them a delay's turns are no longer followed: they are known without.
const MOST: usize = 20_000;
/// Between two points that were followed a delay turns L no further, rad: were it more, L might have gone once round
/// and look as if it had not moved.
pub(super) const SPUN: f64 = 1.0;
/// Decades beyond the corners at most.
const FARTHEST: usize = 8;

/// One point of a loop's curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Traced {
    /// Hz.
    pub frequency: f64,
    /// L there.
    pub open: Complex64,
}

/// Follows L from `low` to `high` (Hz), points closer where it turns or passes near −1.
pub fn trace(open: &OpenLoop, low: f64, high: f64) -> Vec<Traced> {
    let count = ((high / low).log10() * PER_DECADE) as usize + 2;
    let mut grid = resolving_grid(low, high, count, &open.roots());
    if let Plant::Sweep(sweep) = open.plant {
        // What was measured is on the curve.
        let measured = sweep.points.iter().map(|p| p.frequency);
        grid.extend(measured.filter(|f| (low..=high).contains(f)));
        grid.sort_by(f64::total_cmp);
        grid.dedup();
    }
    let at = |frequency| at(open, frequency);
    let delay = open.plant.delay();
    let mut traced: Vec<Traced> = Vec::with_capacity(2 * grid.len());
    for frequency in grid {
        let next = at(frequency);
        if let Some(&last) = traced.last() {
            fill(&at, delay, last, next, DEEPEST, &mut traced);
        }
        traced.push(next);
    }
    if traced.len() > MOST && delay > 0.0 {
        split(open, &mut traced);
    }
    traced
}

fn at(open: &OpenLoop, frequency: f64) -> Traced {
    Traced {
        frequency,
        open: open.at(frequency),
    }
}

/// How far a delay (s) turns L back from one frequency (Hz) to another, rad.
pub(super) fn spin(delay: f64, low: f64, high: f64) -> f64 {
    TAU * delay * (high - low)
}

/// More points where turns are not followed: how often L goes round −1 there is told by its known phase only where
/// |L| stays on one side of 1, and crossings are listed on one side of [`SMALL`].
fn split(open: &OpenLoop, traced: &mut Vec<Traced>) {
    let size = |x: f64| modulus(open.at(x.exp()));
    let mut insert = |of: &dyn Fn(&[Traced]) -> Vec<f64>| {
        let more = of(traced);
        traced.extend(more.into_iter().map(|x| at(open, x.exp())));
        put_in_order(traced, |a, b| a.frequency.total_cmp(&b.frequency));
        traced.dedup_by(|b, a| b.frequency == a.frequency);
    };
    insert(&|traced| {
        let threes = traced.windows(3).map(|w| [w[0], w[1], w[2]]);
        let tops = threes.filter(may_touch).map(|[a, middle, b]| {
            let up = if modulus(middle.open) > 1.0 {
                -1.0
            } else {
                1.0
            };
            highest(|x| up * size(x), a.frequency.ln(), b.frequency.ln())
        });
        tops.collect()
    });
    for level in [1.0, SMALL] {
        insert(&|traced| {
            let is_beyond = |t: &Traced| modulus(t.open) > level;
            let pairs = traced.windows(2);
            let crossing = pairs.filter(|w| is_beyond(&w[0]) != is_beyond(&w[1]));
            let places = crossing.filter_map(|w| {
                let (x, y) = (w[0].frequency.ln(), w[1].frequency.ln());
                zero(|x| (size(x) / level).ln(), x, y)
            });
            places.collect()
        });
    }
}

/// All of L's curve, [`trace`] over [`whole_range`].
pub fn trace_whole(open: &OpenLoop) -> Vec<Traced> {
    let (low, high) = whole_range(open);
    trace(open, low, high)
}

/// Points between two others, until the curve runs evenly.
fn fill(
    at: &impl Fn(f64) -> Traced,
    delay: f64,
    a: Traced,
    b: Traced,
    depth: u32,
    traced: &mut Vec<Traced>,
) {
    let even = |a: Complex64, b: Complex64| {
        let step = b / a;
        let size = modulus(step);
        // An exact zero or a value that is none cannot be followed further.
        !size.is_normal() || (step.im.abs() <= TURN * step.re && size.max(1.0 / size) <= STRETCH)
    };
    let small = || modulus(a.open) < SMALL && modulus(b.open) < SMALL;
    let spin = spin(delay, a.frequency, b.frequency);
    let is_followed = || spin <= SPUN && even(a.open, b.open);
    let is_even = even(1.0 + a.open, 1.0 + b.open) && (small() || is_followed());
    if is_even || depth == 0 {
        return;
    }
    if traced.len() > MOST {
        // What is left of L without its delay must run evenly all the same.
        let is_known = spin <= SPUN || even(a.open, b.open * Complex64::cis(spin));
        if is_known || traced.len() > 2 * MOST {
            return;
        }
    }
    let middle = at((a.frequency * b.frequency).sqrt());
    fill(at, delay, a, middle, depth - 1, traced);
    traced.push(middle);
    fill(at, delay, middle, b, depth - 1, traced);
}

/// From below all corners of a loop to above them, Hz: where it is known, or so far that 1 + L does
/// nothing new beyond.
pub fn whole_range(open: &OpenLoop) -> (f64, f64) {
    if let Some(reach) = open.plant.reach() {
        return reach;
    }
    let roots = open.roots();
    let corners = roots.iter().map(|root| root.norm() / TAU);
    let (mut low, mut high) = corners
        .filter(|f| *f > 0.0 && f.is_finite())
        .fold((1e3, 1e3), |(low, high): (f64, f64), f| {
            (low.min(f), high.max(f))
        });
    // Below, L does not turn for its delay either.
    low = low.min(1.0 / (TAU * open.plant.delay()));
    // Corners beyond all measure come from parts beyond all measure; the curve there tells nothing.
    (low, high) = ((low / 100.0).max(1e-12), (high * 100.0).min(1e15));
    let size = |f: f64| open.at(f).norm();
    // An integrator's gain has no end: go down to where it rules; and else to where 1 + L is as at rest,
    // which is far below all corners where L comes to rest near −1.
    let integrates = roots.contains(&Complex64::ZERO);
    for _ in 0..FARTHEST {
        let apart = 1.0 + open.at(low);
        if (integrates && size(low) > 30.0) || (!integrates && apart.im.abs() < 0.05 * apart.norm())
        {
            break;
        }
        low /= 10.0;
    }
    for _ in 0..FARTHEST {
        if size(high) < 0.1 {
            break;
        }
        high *= 10.0;
    }
    (low, high)
}
