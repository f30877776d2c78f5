//! What keeps a peak down without a notch, and what it costs.

use std::f64::consts::{SQRT_2, TAU};

use serde::{Deserialize, Serialize};

use super::crossing::main_fall;
use super::peak::PeakBox;
use super::{NotchWish, followed};
use crate::feedback::OpenLoop;
use crate::numerics::golden::lowest;
use crate::response::Transfer;

/// The ways without a notch, each computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Otherwise {
    pub lower: LowerGain,
    pub phase: ByPhase,
    /// Of first and of second order; empty where the peak lies below the crossover, or needs none.
    pub low_passes: Vec<LowPass>,
}

/// Less gain over all.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LowerGain {
    /// What the gain must be multiplied by, below 1.
    pub factor: f64,
    /// Where the loop then crosses over, Hz; none where its gain nowhere falls through 1.
    pub crossover: Option<f64>,
    /// Phase margin there, degrees.
    pub phase_margin: Option<f64>,
}

/// The peak left as high as it is, turned away from −1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ByPhase {
    /// The smallest |1 + L| over the peak, of all plants; and where, Hz.
    pub distance: f64,
    pub at: f64,
    /// Phase of L on top of the peak as it drifts, from the least to the largest, degrees; ±180° is
    /// towards −1.
    pub phase: (f64, f64),
    /// Whether the loop as it stands is stable, without any notch; none where its curve does not tell.
    pub is_stable: Option<bool>,
    /// Whether it holds: the loop is stable, and the distance nowhere below that which is asked, so that
    /// no plant in the box makes it unstable.
    pub holds: bool,
}

/// A low-pass of gain 1 at DC; of second order with Q = 1/√2 (Butterworth).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LowPass {
    pub order: u32,
    /// Hz.
    pub corner: f64,
    /// Phase that it takes at the crossover, degrees.
    pub cost_deg: f64,
    /// What it changes |L| by at the crossover, dB.
    pub loss_db: f64,
}

impl LowPass {
    /// The low-pass as a transfer function.
    pub fn transfer(&self) -> Transfer {
        Transfer {
            num: vec![1.0],
            den: match self.order {
                1 => vec![1.0, 1.0],
                _ => vec![1.0, SQRT_2, 1.0],
            },
            omega: TAU * self.corner,
        }
    }
}

/// The loop with its gain multiplied by `factor`.
pub(super) fn lower(open: &OpenLoop, factor: f64) -> LowerGain {
    let mut less = open.clone();
    less.sign *= factor;
    let crossover = main_fall(&less);
    LowerGain {
        factor,
        crossover,
        phase_margin: crossover.map(|f| (-less.at(f)).arg().to_degrees()),
    }
}

/// Whether the loop as it stands is stable; none where its curve does not tell.
pub(super) fn is_stable(open: &OpenLoop) -> Option<bool> {
    let unstable = followed(open).and_then(|traced| open.unstable_poles(&traced));
    unstable.map(|count| count == 0)
}

/// Given the smallest |1 + L| over the peak and where it is, Hz.
pub(super) fn by_phase(
    peak: &PeakBox,
    wish: &NotchWish,
    (distance, at): (f64, f64),
    is_stable: Option<bool>,
) -> ByPhase {
    ByPhase {
        distance,
        at,
        phase: phase(peak),
        is_stable,
        // On the way from the nominal plant to any other the curve does not pass through −1, so that
        // Nyquist's count stays.
        holds: is_stable == Some(true) && distance >= 1.0 / wish.sensitivity,
    }
}

/// Phase of L on top of the peak over the drift, degrees, followed without jumps.
fn phase(peak: &PeakBox) -> (f64, f64) {
    const STEPS: u32 = 40;
    let (low, high) = peak.drift();
    let width = peak.damping().0;
    let mut before: Option<f64> = None;
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for k in 0..=STEPS {
        let mode = low + (high - low) * f64::from(k) / f64::from(STEPS);
        let size = |f: f64| -peak.with_mode_at(mode, f).norm();
        let (low, high) = (mode * (1.0 - width), mode * (1.0 + width));
        let (_, top) = lowest(size, low, high, 1e-6 * low);
        let own = peak.with_mode_at(mode, top).arg().to_degrees();
        let turns = before.map_or(0.0, |before| ((before - own) / 360.0).round());
        let now = own + 360.0 * turns;
        (least, most) = (least.min(now), most.max(now));
        before = Some(now);
    }
    (least, most)
}

/// Of the highest corner that keeps the level: |L|²/(1 + (f/fc)^(2·order)) ≤ level².
pub(super) fn low_pass(peak: &PeakBox, level: f64, crossover: f64, order: u32) -> Option<LowPass> {
    let may = |f: f64| {
        let over = (peak.largest_at(f) / level).powi(2) - 1.0;
        // Where nothing is over the level, any corner will do.
        if over <= 0.0 {
            f64::MAX.ln()
        } else {
            f.ln() - over.ln() / f64::from(2 * order)
        }
    };
    let (height, _) = peak.top(|f| -may(f));
    let corner = (-height).exp();
    if !(corner.is_finite() && corner < 1e3 * peak.range.1) {
        return None;
    }
    let mut found = LowPass {
        order,
        corner,
        cost_deg: 0.0,
        loss_db: 0.0,
    };
    let there = found.transfer().at(crossover);
    found.cost_deg = -there.arg().to_degrees();
    found.loss_db = 20.0 * there.norm().log10();
    Some(found)
}
