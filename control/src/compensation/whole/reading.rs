//! A loop read against the whole wish.

use std::task::Poll;

use serde::{Deserialize, Serialize};

use super::ground::background;
use super::peak::Peak;
use super::{WholeError, WholeLoop, WholeWish};
use crate::compensation::advice::{Topping, followed};
use crate::feedback::Margins;

/// What a loop holds of the wish.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Where |L| falls through 1 nearest to the wanted crossover, Hz, and the phase margin there, degrees.
    pub crossover: Option<f64>,
    pub phase_margin: Option<f64>,
    pub margins: Margins,
    /// Poles of the closed loop in the right half plane; none where the curve does not tell.
    pub unstable_poles: Option<usize>,
    /// Of each resonance that does not lie below the wanted crossover.
    pub peaks: Vec<PeakReading>,
    /// The largest |L| from the wished roll-off on, peaks aside, dB, and where, Hz.
    pub roll_off: Option<(f64, f64)>,
}

/// What is left of a mode's peak.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PeakReading {
    /// Place among the model's modes, from 0.
    pub mode: usize,
    /// Its frequency, Hz.
    pub frequency: f64,
    /// What is asked, dB.
    pub level_db: f64,
    /// The largest |L| over the whole drift, dB.
    pub worst_db: f64,
}

/// A crossover may be off by this fraction and a margin by so many degrees.
pub(super) const CROSSOVER: f64 = 0.01;
pub(super) const MARGIN: f64 = 1.0;
/// And a level by so many decibels: less than any part strays.
pub(super) const LEVEL: f64 = 0.05;
/// The same in words.
pub const ALLOWANCE: &str =
    "to within 1 % of the crossover, 1° of the phase margin and 0.05 dB of a level";

impl Reading {
    /// How far the loop is off, in units of what it may be off: at most 1 when it holds the wish.
    pub(super) fn miss(&self, wish: &WholeWish, most: f64) -> f64 {
        let (Some(crossover), Some(margin)) = (self.crossover, self.phase_margin) else {
            return f64::INFINITY;
        };
        let frequency = (crossover / wish.crossover - 1.0).abs() / CROSSOVER;
        let less = (wish.phase_margin - margin) / MARGIN;
        let more = 1.0 + margin - (most + MARGIN);
        let peaks = self
            .peaks
            .iter()
            .map(|p| 1.0 + p.worst_db - p.level_db - LEVEL);
        let roll_off = self.roll_off.zip(wish.roll_off);
        let roll_off = roll_off.map_or(0.0, |(top, wish)| {
            1.0 + top.0 - decibels(wish.level) - LEVEL
        });
        let unstable = if self.unstable_poles == Some(0) {
            0.0
        } else {
            100.0
        };
        let again = if self.again(wish).is_some() {
            50.0
        } else {
            0.0
        };
        let all = [frequency, less, more, roll_off, unstable, again];
        peaks.chain(all).fold(0.0, f64::max)
    }

    /// Where |L| is 1 once more above the crossover, Hz, though no peak may come up to 1.
    pub(super) fn again(&self, wish: &WholeWish) -> Option<f64> {
        let crossover = self.crossover?;
        if self.peaks.iter().any(|peak| peak.level_db > 0.0) && !wish.levels.is_empty() {
            return None;
        }
        let last = self.margins.gain_crossings.last()?.frequency;
        (last > crossover * (1.0 + 1e-6)).then_some(last)
    }
}

/// 20·lg of a ratio.
pub(super) fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.max(1e-20).log10()
}

/// A reading in steps, none of which takes longer than following the loop's curve.
pub struct Reader {
    of: WholeLoop,
    wish: WholeWish,
    found: Reading,
    /// The mode to be looked at next.
    next: usize,
    peak: Option<(Peak, Topping)>,
    ranges: Vec<(f64, f64)>,
    is_followed: bool,
}

impl Reader {
    /// # Errors
    /// A wish that is out of range.
    pub fn begin(of: WholeLoop, wish: &WholeWish) -> Result<Reader, WholeError> {
        wish.check(&of.model)?;
        Ok(Reader {
            of,
            wish: wish.clone(),
            found: Reading {
                crossover: None,
                phase_margin: None,
                margins: Margins::default(),
                unstable_poles: None,
                peaks: Vec::new(),
                roll_off: None,
            },
            next: 0,
            peak: None,
            ranges: Vec::new(),
            is_followed: false,
        })
    }

    /// One step; gives the reading when it is all there, and must not be called again then.
    pub fn step(&mut self) -> Poll<Result<Reading, WholeError>> {
        if !self.is_followed {
            self.is_followed = true;
            self.follow();
            return Poll::Pending;
        }
        if let Some((peak, mut topping)) = self.peak.take() {
            match peak.top(&mut topping) {
                Poll::Pending => self.peak = Some((peak, topping)),
                Poll::Ready(top) => self.found.peaks.push(PeakReading {
                    mode: peak.mode,
                    frequency: self.of.model.modes[peak.mode].frequency,
                    level_db: decibels(self.wish.level(peak.mode, peak.range)),
                    worst_db: decibels(top),
                }),
            }
            return Poll::Pending;
        }
        if let Some(mode) = self.of.model.modes.get(self.next) {
            let place = self.next;
            self.next += 1;
            if mode.is_resonance() {
                match Peak::new(&self.of, &self.wish, place) {
                    Ok(peak) => {
                        self.ranges.push(peak.range);
                        if peak.range.1 > self.wish.crossover {
                            self.peak = Some((peak, Topping::default()));
                        }
                    }
                    Err(error) => return Poll::Ready(Err(error)),
                }
            }
            return Poll::Pending;
        }
        if let Some(roll_off) = self.wish.roll_off {
            let kept = self.of.kept();
            let ranges = self.ranges.iter().copied();
            let above = background(&kept.open(), &self.wish, roll_off.from, ranges);
            let top = above.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
            self.found.roll_off = top.map(|(f, size)| (decibels(size), f));
        }
        Poll::Ready(Ok(self.found.clone()))
    }

    fn follow(&mut self) {
        let kept = self.of.kept();
        let open = kept.open();
        let Some(traced) = followed(&open) else {
            return;
        };
        let margins = Margins::read(&open, &traced);
        self.found.unstable_poles = open.unstable_poles(&traced);
        let off = |f: f64| (f / self.wish.crossover).ln().abs();
        let falls = margins.gain_crossings.iter().filter(|c| c.falls);
        let own = falls.min_by(|a, b| off(a.frequency).total_cmp(&off(b.frequency)));
        self.found.crossover = own.map(|own| own.frequency);
        self.found.phase_margin = own.map(|own| own.phase_margin);
        self.found.margins = margins;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_allowed_is_said() {
        let words = [
            format!("{} % of the crossover", 100.0 * CROSSOVER),
            format!("{MARGIN}° of the phase margin"),
            format!("{LEVEL} dB of a level"),
        ];
        assert!(words.iter().all(|words| ALLOWANCE.contains(words)));
    }
}
