//! Cheaper parts: as many as the yield bears.

use std::task::{Poll, ready};

use super::classes::{Move, moved, steps};
use super::race::{Bed, Entrant, Race};
use super::{LITTLE, SEARCH};
use crate::numerics::put_in_order;
use crate::spread::Verdict;

/// Parts in the order in which they cost least yield, taken as long as enough is left; then once more, a class
/// further, until nothing can be taken.
pub struct Loosen {
    base: Entrant,
    /// What earlier passes took.
    kept: Vec<Move>,
    /// The yield that must be left.
    floor: f64,
    pass: Pass,
}

enum Pass {
    /// Each part on its own.
    Ordering(Race, Vec<Move>),
    /// One more part than are taken; the rest wait, the least costly last.
    Taking(Race, Vec<Move>, Vec<Move>),
    Done(Vec<Move>),
}

impl Loosen {
    pub fn new(bed: Bed, base: Entrant, verdict: &Verdict) -> Loosen {
        let wanted = bed.design.spread.wanted;
        let floor = if verdict.share() >= wanted {
            wanted
        } else {
            verdict.share() - LITTLE / 4.0
        };
        Loosen {
            pass: ordering(bed, &base),
            base,
            kept: Vec::new(),
            floor,
        }
    }

    /// Works on; gives the moves when done.
    pub fn advance(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<Vec<Move>> {
        loop {
            self.pass = match &mut self.pass {
                Pass::Ordering(race, tried) => {
                    let verdicts = ready!(race.advance(bed, go_on));
                    let mut order: Vec<(Move, f64)> = std::mem::take(tried)
                        .into_iter()
                        .zip(verdicts.iter().map(Verdict::share))
                        .filter(|(_, share)| *share >= self.floor)
                        .collect();
                    put_in_order(&mut order, |a, b| a.1.total_cmp(&b.1));
                    let waiting = order.into_iter().map(|(step, _)| step).collect();
                    self.next(bed, Vec::new(), waiting)
                }
                Pass::Taking(race, taken, waiting) => {
                    let verdicts = ready!(race.advance(bed, go_on));
                    let is_fine = verdicts.iter().all(|v| v.share() >= self.floor);
                    let (mut taken, mut waiting) = (std::mem::take(taken), std::mem::take(waiting));
                    let tried = waiting.pop();
                    taken.extend(tried.filter(|_| is_fine));
                    self.next(bed, taken, waiting)
                }
                Pass::Done(moves) => return Poll::Ready(std::mem::take(moves)),
            };
        }
    }

    fn next(&mut self, bed: Bed, taken: Vec<Move>, waiting: Vec<Move>) -> Pass {
        let mut moves = [&self.kept[..], &taken[..]].concat();
        let Some(next) = waiting.last() else {
            if taken.is_empty() {
                return Pass::Done(std::mem::take(&mut self.kept));
            }
            self.kept = moves;
            return ordering(bed, &moved(bed, &self.base, &self.kept));
        };
        moves.push(next.clone());
        let race = Race::new(vec![moved(bed, &self.base, &moves)], SEARCH);
        Pass::Taking(race, taken, waiting)
    }
}

/// Each part a class worse than it is now.
fn ordering(bed: Bed, now: &Entrant) -> Pass {
    let tried = steps(bed, now, false);
    let entrants = tried
        .iter()
        .map(|step| moved(bed, now, std::slice::from_ref(step)));
    Pass::Ordering(Race::new(entrants.collect(), SEARCH), tried)
}
