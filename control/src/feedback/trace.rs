//! A loop's curve, followed closely enough to read anything off it.

use std::f64::consts::TAU;

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::OpenLoop;
use crate::numerics::modulus;
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
/// Points at most.
const MOST: usize = 20_000;
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
    let at = |frequency| Traced {
        frequency,
        open: open.at(frequency),
    };
    let mut traced: Vec<Traced> = Vec::with_capacity(2 * grid.len());
    for frequency in grid {
        let next = at(frequency);
        if let Some(&last) = traced.last() {
            fill(&at, last, next, DEEPEST, &mut traced);
        }
        traced.push(next);
    }
    traced
}

/// All of L's curve, [`trace`] over [`whole_range`].
pub fn trace_whole(open: &OpenLoop) -> Vec<Traced> {
    let (low, high) = whole_range(open);
    trace(open, low, high)
}

/// Points between two others, until the curve runs evenly.
fn fill(at: &impl Fn(f64) -> Traced, a: Traced, b: Traced, depth: u32, traced: &mut Vec<Traced>) {
    let even = |a: Complex64, b: Complex64| {
        let step = b / a;
        let size = modulus(step);
        // An exact zero or a value that is none cannot be followed further.
        !size.is_normal() || (step.im.abs() <= TURN * step.re && size.max(1.0 / size) <= STRETCH)
    };
    let small = || modulus(a.open) < SMALL && modulus(b.open) < SMALL;
    let is_even = even(1.0 + a.open, 1.0 + b.open) && (small() || even(a.open, b.open));
    if is_even || depth == 0 || traced.len() > MOST {
        return;
    }
    let middle = at((a.frequency * b.frequency).sqrt());
    fill(at, a, middle, depth - 1, traced);
    traced.push(middle);
    fill(at, middle, b, depth - 1, traced);
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
