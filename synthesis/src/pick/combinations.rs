//! Which combinations of chosen and free parts are worth solving.

use std::cmp::Ordering;
use std::task::Poll;

use super::comfort::{Bother, Weights};
use super::exact::start;
use super::lists::{Lists, nearest};
use crate::numerics::put_in_order;
use crate::parts::OpAmp;
use crate::stages::{Alike, Model, Scratch};

/// At most so many combinations are solved; where there are more, the most comfortable ones.
const MOST: usize = 240;
/// At most so many are looked at; where a shelf has more, each part keeps its most comfortable values.
const LOOKED_AT: usize = 20_000;
/// Levels that are tried for parts that set nothing but the level of impedance, Ω.
const LEVELS: [f64; 3] = [10e3, 4.7e3, 22e3];
/// A combination is not followed when a solved part would lie further off the shelf's ends than this,
/// as ln of a ratio.
const FAR_OFF: f64 = std::f64::consts::LN_2;
/// What speaks against a combination whose solution misses, in points a limit, and up to how many limits that counts.
const GAP: (f64, f64) = (4.0, 5.0);

/// The combinations, looked at one by one and then given best first.
pub(super) struct Combinations {
    groups: Vec<(Alike, Vec<f64>)>,
    looked_at: usize,
    total: usize,
    /// (what speaks against it without the gap of its solution, its number); the next one last.
    promised: Vec<(f64, usize)>,
    /// (what speaks against it, its number), least first while they are looked at
    worth: Vec<(f64, usize)>,
    weights: Weights,
    /// With the op amp of the design equations.
    ideal: Model,
    scratch: Scratch,
}

impl Combinations {
    /// `lists` are the values that each part may have, rising.
    pub fn new(
        model: &Model,
        lists: &[Vec<f64>],
        pinned: &[bool],
        weights: Weights,
    ) -> Combinations {
        let grouping = model.stage.grouping();
        // Alike parts follow one that is pinned.
        let list = |parts: Alike| {
            let lead = parts.iter().copied().find(|&part| pinned[part]);
            (lead.unwrap_or(parts[0]), lead.is_some())
        };
        let mut groups: Vec<(Alike, Vec<f64>)> = Vec::new();
        for &parts in grouping.chosen {
            groups.push((parts, lists[list(parts).0].clone()));
        }
        for &parts in grouping.free {
            let (lead, is_pinned) = list(parts);
            let all = &lists[lead];
            let mut levels: Vec<f64> = LEVELS
                .iter()
                .map(|&level| all[nearest(all, level * weights.level)])
                .collect();
            levels.dedup();
            groups.push((parts, if is_pinned { all.clone() } else { levels }));
        }
        let size = |groups: &[(Alike, Vec<f64>)]| {
            let sizes = groups.iter().map(|(_, list)| list.len());
            sizes.product::<usize>()
        };
        while size(&groups) > LOOKED_AT {
            let Some((parts, longest)) = groups.iter_mut().max_by_key(|(_, list)| list.len())
            else {
                break;
            };
            let worst = (0..longest.len()).max_by(|&a, &b| {
                let kind = model.netlist.parts()[parts[0]].kind;
                let bad = |at: usize| weights.strain_of(kind, longest[at]);
                bad(a).total_cmp(&bad(b))
            });
            longest.remove(worst.unwrap_or(0));
        }
        Combinations {
            looked_at: 0,
            total: size(&groups),
            groups,
            promised: Vec::new(),
            worth: Vec::new(),
            weights,
            ideal: model.with_op_amp(&OpAmp::IDEAL),
            scratch: Scratch::default(),
        }
    }

    /// Looks at the next one; ready when all are looked at, and the best stand ready in
    /// [`Combinations::next`].
    pub fn look(&mut self, model: &Model, lists: &Lists) -> Poll<()> {
        if self.looked_at < self.total {
            let number = self.looked_at;
            self.looked_at += 1;
            let rough = self.rough(model, lists, number);
            let off = off_shelf(model.stage.grouping().solved, &rough, lists);
            if off <= FAR_OFF {
                let points = Bother::of(model, &rough, &self.weights).points(&self.weights);
                self.promised.push((points + 10.0 * off, number));
            }
            if self.looked_at == self.total {
                // What least speaks against is taken first, from the end.
                put_in_order(&mut self.promised, |a, b| before(b, a));
            }
            return Poll::Pending;
        }
        let Some((points, number)) = self.promised.pop() else {
            return Poll::Ready(());
        };
        // A gap only adds points, so that none that is left comes among the best.
        let is_full = self.worth.len() == MOST;
        if is_full && self.worth.last().is_some_and(|last| points > last.0) {
            self.promised.clear();
        } else {
            // Some combinations only come near: a pair of capacitors that is just short of an asked Q.
            let rough = self.rough(model, lists, number);
            let terms = self.ideal.terms(&rough, None, &mut self.scratch);
            let gap = model.term_shape().miss(&terms).min(GAP.1);
            let own = (points + GAP.0 * gap, number);
            let place = self
                .worth
                .partition_point(|other| before(other, &own).is_lt());
            self.worth.insert(place, own);
            self.worth.truncate(MOST);
        }
        if self.promised.is_empty() {
            // Taken from the end; in the order of their numbers, neighbours look alike.
            put_in_order(&mut self.worth, |a, b| b.1.cmp(&a.1));
        }
        Poll::Pending
    }

    /// What the closed form says for a combination: enough to see whether the shelf has such values at all.
    fn rough(&self, model: &Model, lists: &Lists, number: usize) -> Vec<f64> {
        let mut rough: Vec<f64> = lists.values.iter().map(|list| list[0]).collect();
        self.put(number, &mut rough);
        start(model, &rough, &lists.pinned)
    }

    /// Takes the next combination worth solving.
    pub fn next(&mut self) -> Option<usize> {
        self.worth.pop().map(|(_, number)| number)
    }

    /// Puts a combination's values in their places.
    pub fn put(&self, mut number: usize, values: &mut [f64]) {
        for (parts, list) in &self.groups {
            let value = list[number % list.len()];
            number /= list.len();
            parts.iter().for_each(|&part| values[part] = value);
        }
    }

    /// What the design equations say for chosen parts in the middle of their lists.
    pub fn plain(&self, model: &Model, lists: &Lists) -> Vec<f64> {
        let mut values: Vec<f64> = (lists.values.iter())
            .map(|list| list[list.len() / 2])
            .collect();
        for (parts, list) in &self.groups {
            let value = list[list.len() / 2];
            parts.iter().for_each(|&part| values[part] = value);
        }
        start(model, &values, &lists.pinned)
    }

    /// Share of the work that is done.
    pub fn progress(&self) -> f64 {
        let solved = MOST.min(self.total);
        let is_looking = self.looked_at < self.total || !self.promised.is_empty();
        let left = if is_looking {
            solved
        } else {
            self.worth.len().min(solved)
        };
        1.0 - left as f64 / solved.max(1) as f64
    }
}

fn before(a: &(f64, usize), b: &(f64, usize)) -> Ordering {
    a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
}

/// How far (ln of a ratio) the worst of these values lies off what the shelf has.
fn off_shelf(groups: &[Alike], values: &[f64], lists: &Lists) -> f64 {
    let mut most = 1.0f64;
    for parts in groups {
        if parts.iter().any(|&part| lists.pinned[part]) {
            continue;
        }
        let (list, value) = (&lists.values[parts[0]], values[parts[0]]);
        // A value that is not positive or not a number is no value at all.
        if value.is_nan() || value <= 0.0 {
            return f64::INFINITY;
        }
        if let (Some(low), Some(high)) = (list.first(), list.last()) {
            most = most.max(low / value).max(value / high);
        }
    }
    most.ln()
}
