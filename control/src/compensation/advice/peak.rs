//! The loop near one resonance, for every plant within the tolerances of its frequency, damping and gain.

use std::f64::consts::TAU;
use std::task::Poll;

use num_complex::Complex64;

use super::extreme::Drifting;
use super::top::Topping;
use super::{AdviceError, NotchWish};
use crate::feedback::OpenLoop;
use crate::plant::Model;
use crate::response::{Transfer, resolving_grid};

/// Half-widths of the resonance that count as its peak to either side of where it drifts.
const SKIRT: f64 = 3.0;
/// Points from end to end, before edges and other stages ask for more.
const COUNT: usize = 160;

/// L split into what drifts with the mode and what does not: L = outer·(rest + share).
pub(in crate::compensation) struct PeakBox {
    stages: Vec<Transfer>,
    sign: f64,
    others: Model,
    mode: crate::plant::Mode,
    wish: NotchWish,
    /// From where to where |L| counts as the peak's, Hz.
    pub range: (f64, f64),
    /// Frequencies over the range, Hz, closer where the curve bends.
    pub grid: Vec<f64>,
    /// The largest |L| of all plants at each of them.
    pub largest: Vec<f64>,
}

impl PeakBox {
    pub fn new(open: &OpenLoop, model: &Model, wish: &NotchWish) -> Result<PeakBox, AdviceError> {
        let mode = model.modes[wish.mode];
        let mut others = model.clone();
        others.modes.remove(wish.mode);
        let skirt = SKIRT * mode.damping;
        let edges =
            [-1.0, 1.0].map(|side| mode.frequency * (1.0 + side * wish.variations.frequency));
        let range = (
            edges[0] * (1.0 - skirt).max(0.5),
            edges[1] * (1.0 + skirt).min(2.0),
        );
        let mut roots = open.roots();
        // The curve over all plants bends at the drift's ends, within the resonance's width.
        let bend = 0.1 * mode.damping * (1.0 - wish.variations.damping);
        roots.extend(edges.map(|edge| TAU * edge * Complex64::new(-bend, 1.0)));
        let mut found = PeakBox {
            stages: open.stages.iter().map(|stage| (*stage).clone()).collect(),
            sign: open.sign,
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
        (1.0 + self.wish.variations.gain) * self.drifting(frequency).largest(rest, share)
    }

    /// The smallest |1 + L| of all plants at a frequency in Hz.
    pub fn nearest_at(&self, frequency: f64) -> f64 {
        /// Gains tried from the lowest to the highest; between them the distance errs in second order.
        const GAINS: u32 = 13;
        let (rest, share) = self.split(frequency);
        let drifting = self.drifting(frequency);
        let gains = (0..GAINS).map(|k| {
            let side = 2.0 * f64::from(k) / f64::from(GAINS - 1) - 1.0;
            1.0 + self.wish.variations.gain * side
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
        let (f, drift) = (self.mode.frequency, self.wish.variations.frequency);
        (f * (1.0 - drift), f * (1.0 + drift))
    }

    /// The damping ratio, from the lowest to the highest.
    pub fn damping(&self) -> (f64, f64) {
        let (z, drift) = (self.mode.damping, self.wish.variations.damping);
        (z * (1.0 - drift), z * (1.0 + drift))
    }

    /// The largest of `of` over the range, and where, Hz.
    pub fn top(&self, of: impl Fn(f64) -> f64) -> (f64, f64) {
        let mut topping = Topping::default();
        loop {
            if let Poll::Ready(found) = topping.step(&self.grid, &of) {
                return found;
            }
        }
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
        let stages = self.stages.iter();
        let mut outer = stages.fold(Complex64::from(self.sign), |l, stage| {
            l * stage.at(frequency)
        });
        outer *= Complex64::cis(-omega * self.others.delay);
        // The lag belongs to both.
        if let Some(corner) = self.others.lag {
            outer /= 1.0 + s / (TAU * corner);
        }
        let rigid = self.others.rigid;
        let rigid = rigid.map_or(Complex64::ZERO, |r| r.of(s));
        let rest = self.others.modes.iter().fold(rigid, |sum, m| sum + m.of(s));
        let share = (self.mode.residue + self.mode.slope * s) / (omega * omega);
        (outer * rest, outer * share)
    }
}
