//! Better parts: the fewest steps of class that bring the yield to what is wanted.

use std::task::{Poll, ready};

use super::classes::{Move, moved, steps};
use super::race::{Bed, Entrant, Race};
use super::{LITTLE, SEARCH};
use crate::spread::Verdict;

/// Steps of class at most.
const MOST: usize = 10;

/// Step by step the part that gains most; then what turned out to be needless is taken back.
pub struct Tighten {
    base: Entrant,
    moves: Vec<Move>,
    best: Verdict,
    pass: Pass,
    /// The first step of each part.
    pub singles: Vec<Move>,
}

enum Pass {
    Adding(Race, Vec<Move>),
    TakingBack(Race),
    Done,
}

impl Tighten {
    pub fn new(bed: Bed, base: Entrant, verdict: Verdict) -> Tighten {
        let (race, tried) = round(bed, &base, &[]);
        Tighten {
            base,
            moves: Vec::new(),
            best: verdict,
            pass: Pass::Adding(race, tried),
            singles: Vec::new(),
        }
    }

    /// Works on; gives the moves when done.
    pub fn advance(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<Vec<Move>> {
        loop {
            match &mut self.pass {
                Pass::Adding(race, tried) => {
                    let verdicts = ready!(race.advance(bed, go_on));
                    let tried = std::mem::take(tried);
                    self.pass = self.added(bed, verdicts, tried);
                }
                Pass::TakingBack(race) => {
                    let verdicts = ready!(race.advance(bed, go_on));
                    self.pass = self.taken_back(bed, &verdicts);
                }
                Pass::Done => return Poll::Ready(std::mem::take(&mut self.moves)),
            }
        }
    }

    fn added(&mut self, bed: Bed, verdicts: Vec<Verdict>, tried: Vec<Move>) -> Pass {
        let gain = |verdict: &Verdict| verdict.gain_over(&self.best).0;
        let gains: Vec<f64> = verdicts.iter().map(gain).collect();
        if self.singles.is_empty() {
            self.singles = tried.clone();
        }
        let most = (0..gains.len()).max_by(|&a, &b| gains[a].total_cmp(&gains[b]));
        let Some(most) = most.filter(|&at| gains[at] > LITTLE / 2.0) else {
            return self.look_back(bed);
        };
        self.moves.push(tried[most].clone());
        self.best = verdicts[most].clone();
        if self.best.share() >= bed.design.spread.wanted || self.moves.len() >= MOST {
            return self.look_back(bed);
        }
        let (race, tried) = round(bed, &self.base, &self.moves);
        Pass::Adding(race, tried)
    }

    /// Tries to leave out one move at a time.
    fn look_back(&self, bed: Bed) -> Pass {
        if self.moves.len() < 2 {
            return Pass::Done;
        }
        let without = |left_out: usize| {
            let rest = self
                .moves
                .iter()
                .enumerate()
                .filter(|(at, _)| *at != left_out);
            moved(
                bed,
                &self.base,
                &rest.map(|(_, step)| step.clone()).collect::<Vec<_>>(),
            )
        };
        let entrants = (0..self.moves.len()).map(without).collect();
        Pass::TakingBack(Race::new(entrants, SEARCH))
    }

    fn taken_back(&mut self, bed: Bed, verdicts: &[Verdict]) -> Pass {
        let wanted = bed
            .design
            .spread
            .wanted
            .min(self.best.share() - LITTLE / 5.0);
        let spare = (0..verdicts.len())
            .filter(|&at| verdicts[at].share() >= wanted)
            .max_by(|&a, &b| verdicts[a].share().total_cmp(&verdicts[b].share()));
        match spare {
            Some(spare) => {
                self.moves.remove(spare);
                self.best = verdicts[spare].clone();
                self.look_back(bed)
            }
            None => Pass::Done,
        }
    }
}

/// One more step for each part.
fn round(bed: Bed, base: &Entrant, moves: &[Move]) -> (Race, Vec<Move>) {
    let now = moved(bed, base, moves);
    let tried = steps(bed, &now, true);
    let entrants = tried
        .iter()
        .map(|step| moved(bed, &now, std::slice::from_ref(step)));
    (Race::new(entrants.collect(), SEARCH), tried)
}
