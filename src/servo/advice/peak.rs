//! The loop round one resonance, for every plant in the box of its drift.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::super::{Model, OpenLoop};
use super::extreme::Drifting;
use super::{AdviceError, NotchWish};
use crate::response::resolving_grid;
use crate::servo::golden;

/// Half-widths of the resonance that count as its peak to either side of where it drifts.
const SKIRT: f64 = 3.0;
/// Points from end to end, before edges and other stages ask for more.
const COUNT: usize = 160;

/// L split into what drifts with the mode and what does not: L = outer·(rest + share).
pub(super) struct PeakBox<'a> {
    open: &'a OpenLoop<'a>,
    others: Model,
    mode: super::super::Mode,
    wish: NotchWish,
    /// From where to where |L| counts as the peak's, Hz.
    pub range: (f64, f64),
    /// Frequencies over the range, Hz, closer where the curve bends.
    pub grid: Vec<f64>,
    /// The largest |L| of all plants at each of them.
    pub largest: Vec<f64>,
}

impl<'a> PeakBox<'a> {
    pub fn new(
        open: &'a OpenLoop<'a>,
        model: &Model,
        wish: &NotchWish,
    ) -> Result<PeakBox<'a>, AdviceError> {
        let mode = model.modes[wish.mode];
        let mut others = model.clone();
        others.modes.remove(wish.mode);
        let skirt = SKIRT * mode.damping;
        let edges = [-1.0, 1.0].map(|side| mode.frequency * (1.0 + side * wish.strays.frequency));
        let range = (
            edges[0] * (1.0 - skirt).max(0.5),
            edges[1] * (1.0 + skirt).min(2.0),
        );
        let mut roots = open.roots();
        // The curve over all plants bends at the drift's ends, within the resonance's width.
        let bend = 0.1 * mode.damping * (1.0 - wish.strays.damping);
        roots.extend(edges.map(|edge| TAU * edge * Complex64::new(-bend, 1.0)));
        let mut found = PeakBox {
            open,
            others,
            mode,
            wish: *wish,
            range,
            grid: resolving_grid(range.0, range.1, COUNT, &roots),
            largest: Vec::new(),
        };
        found.largest = found.grid.iter().map(|f| found.largest_at(*f)).collect();
        if found.grid.is_empty() || found.largest.iter().any(|l| !l.is_finite()) {
            return Err(AdviceError::NotFinite(wish.mode + 1));
        }
        Ok(found)
    }

    /// The largest |L| of all plants at a frequency in Hz.
    pub fn largest_at(&self, frequency: f64) -> f64 {
        let (rest, share) = self.split(frequency);
        (1.0 + self.wish.strays.gain) * self.drifting(frequency).largest(rest, share)
    }

    /// The smallest |1 + L| of all plants at a frequency in Hz.
    pub fn nearest_at(&self, frequency: f64) -> f64 {
        /// Gains tried from the lowest to the highest; between them the distance errs in second order.
        const GAINS: u32 = 13;
        let (rest, share) = self.split(frequency);
        let drifting = self.drifting(frequency);
        let gains = (0..GAINS).map(|k| {
            let side = 2.0 * f64::from(k) / f64::from(GAINS - 1) - 1.0;
            1.0 + self.wish.strays.gain * side
        });
        gains
            .map(|gain| drifting.smallest(1.0 + gain * rest, gain * share))
            .fold(f64::INFINITY, f64::min)
    }

    /// L where the mode stands at `mode` (Hz), with its lowest damping and the nominal gain.
    pub fn with_mode_at(&self, mode: f64, frequency: f64) -> Complex64 {
        let (rest, share) = self.split(frequency);
        let (t, damping) = (mode / frequency, self.damping().0);
        rest + share / Complex64::new(t * t - 1.0, 2.0 * damping * t)
    }

    /// Where the mode drifts to, Hz.
    pub fn drift(&self) -> (f64, f64) {
        let (f, drift) = (self.mode.frequency, self.wish.strays.frequency);
        (f * (1.0 - drift), f * (1.0 + drift))
    }

    /// The damping ratio, from the lowest to the highest.
    pub fn damping(&self) -> (f64, f64) {
        let (z, drift) = (self.mode.damping, self.wish.strays.damping);
        (z * (1.0 - drift), z * (1.0 + drift))
    }

    /// The largest of `of` over the range, given its values on the grid: the grid's tops are closed in on.
    pub fn top(&self, of: impl Fn(f64) -> f64) -> (f64, f64) {
        let values: Vec<f64> = self.grid.iter().map(|f| of(*f)).collect();
        let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
        let worth = highest - 0.1 * (highest - lowest);
        let last = values.len() - 1;
        let mut best = (f64::NEG_INFINITY, self.range.0);
        for (k, value) in values.iter().copied().enumerate() {
            let (before, after) = (k.saturating_sub(1), (k + 1).min(last));
            if value < worth || value < values[before] || value < values[after] {
                continue;
            }
            let inside = golden::lowest(
                |f| -of(f),
                self.grid[before],
                self.grid[after],
                1e-8 * self.grid[before],
            );
            for (height, place) in [(value, self.grid[k]), (-inside.0, inside.1)] {
                if height > best.0 {
                    best = (height, place);
                }
            }
        }
        best
    }

    fn drifting(&self, frequency: f64) -> Drifting {
        let (low, high) = self.drift();
        Drifting {
            t: (low / frequency, high / frequency),
            damping: self.damping(),
        }
    }

    /// The loop at the nominal gain without the mode, and the mode's share times z (see [`Drifting`]).
    fn split(&self, frequency: f64) -> (Complex64, Complex64) {
        let omega = TAU * frequency;
        let s = Complex64::new(0.0, omega);
        let stages = self.open.stages.iter();
        let mut outer = stages.fold(Complex64::from(self.open.sign), |l, stage| {
            l * stage.at(frequency)
        });
        outer *= Complex64::cis(-omega * self.others.delay);
        // The lag belongs to both.
        if let Some(corner) = self.others.lag {
            outer /= 1.0 + s / (TAU * corner);
        }
        let rigid = self.others.rigid;
        let rigid = rigid.map_or(Complex64::ZERO, |r| r.gain / s.powu(r.integrators));
        let rest = self.others.modes.iter().fold(rigid, |sum, m| sum + m.of(s));
        let share = (self.mode.residue + self.mode.slope * s) / (omega * omega);
        (outer * rest, outer * share)
    }
}
