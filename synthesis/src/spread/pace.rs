//! How fast a run draws its boards, counted in its slices: from that follows how much is worth handing out.

use std::ops::Range;

/// Boards by slices. What is handed out hangs on it, what is found does not.
#[derive(Clone, Debug, Default)]
pub struct Pace {
    /// Boards drawn in the slice before, and in this one.
    before: u32,
    now: u32,
    is_waiting: bool,
}

/// With so many slices left, others are worth their start.
const LONG: u32 = 12;
/// Slices of work that are handed out at once, at most.
const LOT: u32 = 2;

impl Pace {
    /// A slice begins.
    pub fn begin(&mut self) {
        let whole = std::mem::take(&mut self.now);
        // One that ended for want of boards says nothing.
        if !std::mem::take(&mut self.is_waiting) && whole > 0 {
            self.before = whole;
        }
    }

    /// These boards are drawn in this slice.
    pub fn count(&mut self, ranges: &[Range<u32>]) {
        self.now += ranges
            .iter()
            .map(|range| range.end - range.start)
            .sum::<u32>();
    }

    /// There is nothing to do but to wait for others.
    pub fn wait(&mut self) {
        self.is_waiting = true;
    }

    /// Whether others are waited for.
    pub fn is_waiting(&self) -> bool {
        self.is_waiting
    }

    /// Whether so many boards take long; never said before a slice has ended.
    pub fn is_long(&self, left: u32) -> bool {
        let slice = self.before.max(self.now);
        slice > 0 && left / slice >= LONG
    }

    /// So many boards are handed out at once, at most.
    pub fn lot(&self) -> u32 {
        LOT * self.before.max(self.now).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::Pace;

    #[test]
    fn what_is_left_is_measured_by_slices() {
        let mut pace = Pace::default();
        assert!(!pace.is_long(1_000_000));
        pace.begin();
        pace.count(&[0..256, 256..512]);
        assert!(pace.is_long(12 * 512) && !pace.is_long(11 * 512));
        assert_eq!(pace.lot(), 1024);
        pace.begin();
        pace.count(&[512..513, 513..514]);
        pace.wait();
        pace.begin();
        assert_eq!(pace.lot(), 1024);
    }
}
