//! The fixed data of a search for controller and notches.

use std::task::Poll;

use super::peak::Peak;
use super::{WholeError, WholeLoop, WholeWish};
use crate::compensation::wrapped::wrapped;
use crate::feedback::{KeptLoop, OpenLoop};
use crate::response::resolving_grid;

/// The loop without what is looked for, its peaks, and what lies above a roll-off.
pub(super) struct Ground {
    pub of: WholeLoop,
    pub kept: KeptLoop,
    pub wish: WholeWish,
    /// Of all resonances, in the modes' order.
    pub peaks: Vec<Peak>,
    /// Frequencies (Hz) from the roll-off on and between the peaks, and |L| there with the highest gain.
    pub above: Vec<(f64, f64)>,
}

/// The same seen from a crossover.
pub(super) struct Aimed {
    /// Hz.
    pub crossover: f64,
    /// Degrees.
    pub phase_margin: f64,
    /// What brings |L| to 1 there, without the controller.
    pub gain: f64,
    /// Phase that a controller must make there, degrees, from −180 to 180.
    pub needed: f64,
    /// Level of each peak, as a ratio; none where it lies below the crossover and is the loop's own.
    pub levels: Vec<Option<f64>>,
    /// Peaks, by their place, whose range holds the crossover.
    pub within: Option<usize>,
}

/// The roll-off is looked after so far above where it begins, as a ratio.
const FAR: f64 = 1e3;

impl Ground {
    /// Everything but the peaks, which follow one by one.
    pub fn new(mut of: WholeLoop, wish: &WholeWish) -> Result<Ground, WholeError> {
        wish.check(&of.model)?;
        of.sign = 1.0;
        if of.kept().open().net_sign() < 0.0 {
            of.sign = -1.0;
        }
        let kept = of.kept();
        let there = kept.open().at(wish.crossover);
        if !there.norm().is_normal() {
            return Err(WholeError::NoGain);
        }
        Ok(Ground {
            of,
            kept,
            wish: wish.clone(),
            peaks: Vec::new(),
            above: Vec::new(),
        })
    }

    /// The next resonance's peak; ready when there is none left.
    pub fn look(&mut self) -> Poll<Result<(), WholeError>> {
        let from = self.peaks.last().map_or(0, |peak| peak.mode + 1);
        let modes = self.of.model.modes.iter().enumerate().skip(from);
        let next = modes
            .filter(|(_, mode)| mode.is_resonance() && mode.frequency > 0.0)
            .map(|(place, _)| place)
            .next();
        if let Some(mode) = next {
            return match Peak::new(&self.of, &self.wish, mode) {
                Ok(peak) => {
                    self.peaks.push(peak);
                    Poll::Pending
                }
                Err(error) => Poll::Ready(Err(error)),
            };
        }
        if let Some(roll_off) = self.wish.roll_off {
            let ranges = self.peaks.iter().map(|peak| peak.range);
            self.above = background(&self.kept.open(), &self.wish, roll_off.from, ranges);
        }
        Poll::Ready(Ok(()))
    }

    /// Seen from a crossover (Hz), with levels times a factor.
    pub fn aimed(&self, crossover: f64, phase_margin: f64, easier: f64) -> Aimed {
        let there = self.kept.open().at(crossover);
        let needed = wrapped(phase_margin - 180.0 - there.arg().to_degrees());
        let peaks = self.peaks.iter();
        let level = |peak: &Peak| {
            let level = self.wish.level(peak.mode, peak.range) * easier;
            (peak.range.1 > crossover).then_some(level)
        };
        Aimed {
            crossover,
            phase_margin,
            gain: 1.0 / there.norm(),
            needed,
            levels: peaks.map(level).collect(),
            within: self
                .peaks
                .iter()
                .position(|peak| (peak.range.0..=peak.range.1).contains(&crossover)),
        }
    }
}

/// |L| from a frequency (Hz) on and between the peaks, with the highest gain.
pub(super) fn background(
    open: &OpenLoop,
    wish: &WholeWish,
    from: f64,
    peaks: impl Iterator<Item = (f64, f64)> + Clone,
) -> Vec<(f64, f64)> {
    const COUNT: usize = 240;
    let grid = resolving_grid(from, from * FAR, COUNT, &open.roots());
    let between = |f: &f64| {
        let mut ranges = peaks.clone();
        !ranges.any(|(low, high)| (low..=high).contains(f))
    };
    let size = |f: f64| (1.0 + wish.variations.gain) * open.at(f).norm();
    let points = grid.into_iter().filter(between).map(|f| (f, size(f)));
    points.filter(|(_, size)| size.is_finite()).collect()
}
