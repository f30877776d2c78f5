//! The sets that may be shown at the end, in the order in which they are.
//!
//! Many sets come here and few are shown. A share of good boards costs as much as twenty curves, so most sets come with an
//! estimate from the scatter of a similar set, and only what comes to the top has its own share worked out.

use super::rank::{Rank, STEP, best_share};
use crate::numerics::put_in_order;
use crate::stages::Alike;

/// How many sets are kept: the best and the twelve next-best.
pub const KEPT: usize = 13;
/// So many picks at most have the same chosen parts, so that there are others to choose from.
const ALIKE: usize = 4;
/// So many of those with the most good boards have their shares worked out, because all others are held against the best.
const MOST_SHARE: usize = 4;

/// A set of parts, chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Pick {
    /// Values in the netlist's order.
    pub values: Vec<f64>,
    pub rank: Rank,
}

/// A pick and what was read of its curve.
pub(super) struct Candidate {
    pub pick: Pick,
    pub figures: Vec<f64>,
    pub terms: Vec<f64>,
    /// Whether its share of good boards is worked out, not estimated.
    pub is_known: bool,
}

impl Candidate {
    /// What it is ordered by. An estimate counts a step more: of two sets that look alike none is left out unseen.
    fn rank(&self) -> Rank {
        let share = match self.is_known {
            true => self.pick.rank.share,
            false => (self.pick.rank.share + STEP).min(1.0),
        };
        Rank {
            share,
            ..self.pick.rank
        }
    }
}

/// The candidates, best first after [`Kept::put_in_order`].
#[derive(Default)]
pub(super) struct Kept(Vec<Candidate>);

impl Kept {
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether a set of these values is among them.
    pub fn has(&self, values: &[f64]) -> bool {
        self.picks().any(|pick| pick.values == values)
    }

    pub fn picks(&self) -> impl Iterator<Item = &Pick> {
        self.0.iter().map(|candidate| &candidate.pick)
    }

    pub fn first(&self) -> Option<&Candidate> {
        self.0.first()
    }

    pub fn add(&mut self, candidate: Candidate) {
        self.0.push(candidate);
    }

    /// Brings the best to the top, no more than [`ALIKE`] with the same chosen parts as long as there are others, and
    /// leaves out all but [`KEPT`]. `share_of` works out a share that is only estimated.
    pub fn put_in_order(&mut self, chosen: &[Alike], mut share_of: impl FnMut(&Candidate) -> f64) {
        loop {
            let best = self.best_share(&mut share_of);
            put_in_order(&mut self.0, |a, b| a.rank().order(&b.rank(), best));
            let shown = self.shown(chosen);
            if !self.work_out(&shown, &mut share_of) {
                let mut places = 0..;
                self.0
                    .retain(|_| places.next().is_some_and(|at| shown.contains(&at)));
                return;
            }
        }
    }

    /// The best share of those that hold the limits, once the [`MOST_SHARE`] that promise most are worked out.
    fn best_share(&mut self, share_of: &mut impl FnMut(&Candidate) -> f64) -> f64 {
        let held = self.0.iter().enumerate();
        let held = held.filter(|(_, candidate)| candidate.pick.rank.holds());
        let mut most: Vec<(f64, usize)> = held
            .map(|(at, candidate)| (candidate.pick.rank.share, at))
            .collect();
        put_in_order(&mut most, |a, b| b.0.total_cmp(&a.0));
        most.truncate(MOST_SHARE);
        let most: Vec<usize> = most.into_iter().map(|(_, at)| at).collect();
        self.work_out(&most, share_of);
        let known = self.0.iter().filter(|candidate| candidate.is_known);
        best_share(known.map(|candidate| &candidate.pick.rank))
    }

    /// Works out the shares of these that are estimates; whether there were any.
    fn work_out(&mut self, places: &[usize], share_of: &mut impl FnMut(&Candidate) -> f64) -> bool {
        let mut were_any = false;
        for &at in places {
            let candidate = &mut self.0[at];
            if !candidate.is_known {
                candidate.pick.rank.share = share_of(candidate);
                candidate.is_known = true;
                were_any = true;
            }
        }
        were_any
    }

    /// Places of those that are shown, in order.
    fn shown(&self, chosen: &[Alike]) -> Vec<usize> {
        let is_like = |a: usize, b: usize| {
            let (a, b) = (&self.0[a].pick.values, &self.0[b].pick.values);
            let same = |parts: &Alike| parts.iter().all(|&part| a[part] == b[part]);
            chosen.iter().all(same)
        };
        let (mut first, mut others): (Vec<usize>, Vec<usize>) = Default::default();
        for at in 0..self.0.len() {
            if first.len() == KEPT {
                break;
            }
            let alike = first.iter().filter(|known| is_like(**known, at)).count();
            if alike < ALIKE {
                first.push(at);
            } else {
                others.push(at);
            }
        }
        // Where there are few others, these are better than none.
        let room = KEPT - first.len();
        first.extend(others.into_iter().take(room));
        put_in_order(&mut first, |a, b| a.cmp(b));
        first
    }

    /// Takes all out, best first.
    pub fn take(&mut self) -> Vec<Pick> {
        let all = std::mem::take(&mut self.0).into_iter();
        all.map(|candidate| candidate.pick).collect()
    }
}
