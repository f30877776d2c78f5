//! Which boards are drawn by whom: ranges are given out in order, come back in any, and are taken in in order.
//!
//! A board is a function of its number, so a range that does not come back is drawn again and nothing is lost.

use std::collections::BTreeMap;
use std::ops::Range;

use serde::{Deserialize, Serialize};

/// Another worker at one run, by a number that no other has and that it gets anew for each run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hand(pub u32);

/// What another worker shall do next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Errand {
    /// Draw these boards.
    Draw(Range<u32>),
    /// Hand in what was kept back of all that was drawn.
    HandIn,
}

/// The ranges of one run, each with what was read of its boards.
pub struct Schedule<B> {
    /// Ranges begin at multiples of this.
    grain: u32,
    /// The first board that nobody was given.
    next: u32,
    /// All boards before this one were taken.
    taken: u32,
    /// Given up by others.
    again: Vec<Range<u32>>,
    out: Vec<(Hand, Range<u32>)>,
    /// Drawn by others who keep part of what they found until it is asked for.
    owed: Vec<(Hand, Range<u32>)>,
    asked: Vec<Hand>,
    /// Came back before their turn, by their first board.
    early: BTreeMap<u32, (u32, B)>,
}

impl<B> Schedule<B> {
    /// Ranges begin at multiples of `grain` boards.
    pub fn new(grain: u32) -> Schedule<B> {
        Schedule {
            grain,
            next: 0,
            taken: 0,
            again: Vec::new(),
            out: Vec::new(),
            owed: Vec::new(),
            asked: Vec::new(),
            early: BTreeMap::new(),
        }
    }

    /// The next `grain` boards for the run's own worker; none where all before board `end` are given out.
    pub fn own(&mut self, end: u32) -> Option<Range<u32>> {
        if let Some(range) = self.again.pop() {
            let middle = range.end.min(range.start + self.grain);
            if middle < range.end {
                self.again.push(middle..range.end);
            }
            return Some(range.start..middle);
        }
        self.cut(self.grain, end)
    }

    /// Boards for another: about `most`, fewer towards the end, so that all of `workers` end together.
    pub fn lend(&mut self, to: Hand, most: u32, workers: u32, end: u32) -> Option<Range<u32>> {
        let left = end.saturating_sub(self.next);
        let size = (left / (2 * workers.max(1))).clamp(most / 4, most);
        let size = size.div_ceil(self.grain).max(1) * self.grain;
        let range = self.cut(size, end)?;
        self.out.push((to, range.clone()));
        Some(range)
    }

    fn cut(&mut self, size: u32, end: u32) -> Option<Range<u32>> {
        let range = self.next..end.min(self.next.saturating_add(size));
        if range.is_empty() {
            return None;
        }
        self.next = range.end;
        Some(range)
    }

    /// What was read of boards; boards that are there already are dropped.
    pub fn put(&mut self, range: Range<u32>, batch: B) {
        let before = self.early.range(..=range.start).next_back();
        let is_known = before.is_some_and(|(_, (end, _))| *end > range.start);
        if range.start >= self.taken && !is_known {
            self.early.insert(range.start, (range.end, batch));
        }
    }

    /// The same from another worker, who may keep the rest back until it is asked for; whether it was this one's to
    /// draw.
    pub fn give_back(&mut self, from: Hand, range: Range<u32>, batch: B, keeps_back: bool) -> bool {
        let of = |(hand, out): &(Hand, Range<u32>)| *hand == from && *out == range;
        let Some(at) = self.out.iter().position(of) else {
            return false;
        };
        let lent = self.out.swap_remove(at);
        if keeps_back {
            self.owed.push(lent);
        }
        self.put(range, batch);
        true
    }

    /// What comes next in the order of the boards, where it is there.
    pub fn take(&mut self) -> Option<B> {
        let (end, batch) = self.early.remove(&self.taken)?;
        self.taken = end;
        Some(batch)
    }

    /// Gives up all that is still to come; what others keep back is still owed.
    pub fn stop(&mut self) {
        self.next = self.taken;
        self.again.clear();
        self.out.clear();
        self.early.clear();
    }

    /// Another who shall be asked for what it keeps back; each is named once.
    pub fn ask(&mut self, hand: Hand) -> bool {
        let is_asked = self.owes(hand) && !self.asked.contains(&hand);
        if is_asked {
            self.asked.push(hand);
        }
        is_asked
    }

    /// It was handed in.
    pub fn settle(&mut self, hand: Hand) {
        self.owed.retain(|(of, _)| *of != hand);
    }

    /// Whether another keeps something back.
    pub fn owes(&self, hand: Hand) -> bool {
        self.owed.iter().any(|(of, _)| *of == hand)
    }

    /// Whether nobody owes anything, and nothing is left to be drawn again.
    pub fn is_settled(&self) -> bool {
        self.owed.is_empty() && self.again.is_empty()
    }

    /// Only these are still there: what others were to draw, or kept back, is drawn again.
    pub fn keep(&mut self, there: &[Hand]) {
        for list in [&mut self.out, &mut self.owed] {
            let lost = list.extract_if(.., |(hand, _)| !there.contains(hand));
            self.again.extend(lost.map(|(_, range)| range));
        }
    }

    /// Whether others draw, or have something to hand in.
    pub fn is_shared(&self) -> bool {
        !self.out.is_empty() || !self.owed.is_empty()
    }

    /// Whether any were taken.
    pub fn is_begun(&self) -> bool {
        self.taken > 0
    }

    /// Boards that nobody was given yet, before board `end`.
    pub fn left(&self, end: u32) -> u32 {
        end.saturating_sub(self.next)
    }
}

#[cfg(test)]
mod tests {
    use super::{Hand, Schedule};

    fn taken(schedule: &mut Schedule<&'static str>) -> Vec<&'static str> {
        std::iter::from_fn(|| schedule.take()).collect()
    }

    #[test]
    fn ranges_are_taken_in_order_and_those_lost_are_drawn_again() {
        let (a, b) = (Hand(1), Hand(2));
        let mut schedule = Schedule::new(10);
        assert_eq!(schedule.own(100), Some(0..10));
        assert_eq!(schedule.lend(a, 40, 1, 100), Some(10..50));
        assert_eq!(schedule.lend(b, 40, 1, 100), Some(50..80));
        assert_eq!(schedule.own(100), Some(80..90));
        schedule.put(80..90, "own, late");
        assert!(schedule.give_back(a, 10..50, "a", true));
        assert!(!schedule.give_back(a, 50..80, "not a's", true));
        assert_eq!(taken(&mut schedule), [""; 0]);
        schedule.put(0..10, "own");
        assert_eq!(taken(&mut schedule), ["own", "a"]);
        // What b was to draw and what a kept back: drawn again, and known boards are not read twice.
        schedule.keep(&[]);
        let again: Vec<_> = std::iter::from_fn(|| schedule.own(90)).collect();
        assert_eq!(
            again,
            [10..20, 20..30, 30..40, 40..50, 50..60, 60..70, 70..80]
        );
        for range in again {
            schedule.put(range, "again");
        }
        assert_eq!(
            taken(&mut schedule),
            ["again", "again", "again", "own, late"]
        );
        assert!(!schedule.owes(a) && schedule.is_settled());
    }

    #[test]
    fn what_is_kept_back_is_asked_for_once() {
        let mut schedule = Schedule::new(1);
        let hand = Hand(7);
        assert_eq!(schedule.lend(hand, 4, 1, 8), Some(0..4));
        assert!(!schedule.ask(hand));
        assert!(schedule.give_back(hand, 0..4, "", true));
        assert!(schedule.ask(hand) && !schedule.ask(hand) && !schedule.is_settled());
        schedule.settle(hand);
        assert!(schedule.is_settled());
        assert_eq!(schedule.left(8), 4);
    }
}
