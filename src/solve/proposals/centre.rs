//! Centring: a set of values that gives more good boards, though its own response may lie farther from the
//! ask.

use std::task::{Poll, ready};

use super::race::{Bed, Entrant, Race};
use super::{LITTLE, SEARCH};
use crate::design::Edit;
use crate::quantity::{Unit, exact};
use crate::spread::Verdict;

/// Rounds of neighbours.
const ROUNDS: usize = 4;

/// The other picks first, then neighbours of the best, round after round.
pub struct Centre {
    base: Entrant,
    best: (Vec<f64>, Verdict),
    race: Race,
    round: usize,
}

impl Centre {
    /// `picks` are the values of the picks, in their order.
    pub fn new(bed: Bed, base: Entrant, verdict: Verdict, picks: &[Vec<f64>]) -> Centre {
        let mut tried: Vec<Vec<f64>> = picks.to_vec();
        tried.extend(neighbours(bed, &base, &base.values));
        tried.retain(|values| *values != base.values);
        Centre {
            race: race(&base, tried),
            best: (base.values.clone(), verdict),
            base,
            round: 0,
        }
    }

    /// Works on; gives the values of the best set when done.
    pub fn advance(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<Vec<f64>> {
        loop {
            let verdicts = ready!(self.race.advance(bed, go_on));
            let most = (0..verdicts.len())
                .max_by_key(|&at| verdicts[at].passed())
                .filter(|&at| verdicts[at].gain_over(&self.best.1).0 > LITTLE / 2.0);
            self.round += 1;
            let Some(most) = most.filter(|_| self.round < ROUNDS) else {
                return Poll::Ready(self.best.0.clone());
            };
            self.best = (
                self.race.entrants[most].values.clone(),
                verdicts[most].clone(),
            );
            let tried = neighbours(bed, &self.base, &self.best.0);
            self.race = race(&self.base, tried);
        }
    }
}

fn race(base: &Entrant, tried: Vec<Vec<f64>>) -> Race {
    let entrant = |values| Entrant {
        stage: base.stage.clone(),
        values,
    };
    Race::new(tried.into_iter().map(entrant).collect(), SEARCH)
}

/// One value at a time, up or down the shelf; what is pinned stays, and what is alike moves together.
fn neighbours(bed: Bed, base: &Entrant, values: &[f64]) -> Vec<Vec<f64>> {
    let parts = bed.model.netlist.parts();
    let grouping = bed.model.stage.grouping();
    let alike = [grouping.chosen, grouping.free, grouping.solved].concat();
    let pairs = grouping
        .dividers
        .iter()
        .flat_map(|&(a, b)| [vec![a], vec![b]]);
    let groups = alike.iter().map(|group| group.to_vec()).chain(pairs);
    let is_free = |group: &Vec<usize>| {
        let pinned = |part: &usize| base.stage.pins.contains_key(&parts[*part].name);
        !group.iter().any(pinned)
    };
    let mut all = Vec::new();
    for group in groups.filter(is_free) {
        let Some(&first) = group.first() else {
            continue;
        };
        let Some(bin) = bed.design.shelf.bin(parts[first].kind) else {
            continue;
        };
        let shelf = bin.values();
        let at = shelf.partition_point(|value| *value < values[first] * (1.0 - 1e-9));
        for next in [at.checked_sub(1), Some(at + 1)].into_iter().flatten() {
            if let Some(value) = shelf.get(next) {
                let mut changed = values.to_vec();
                for &part in &group {
                    changed[part] = *value;
                }
                all.push(changed);
            }
        }
    }
    all
}

/// How a set of values is put into the design: as one of the picks, or pinned.
pub fn edits(bed: Bed, values: &[f64], picks: &[Vec<f64>]) -> Vec<Edit> {
    let at = format!("/stages/{}", bed.design.view.stage);
    if let Some(choice) = picks.iter().position(|pick| pick == values) {
        return vec![Edit {
            path: format!("{at}/choice"),
            value: choice.into(),
        }];
    }
    let parts = bed.model.netlist.parts().iter().zip(values);
    let bought = parts.zip(&bed.model.bought).filter(|(_, bought)| **bought);
    bought
        .map(|((part, value), _)| Edit {
            path: format!("{at}/pins/{}", part.name),
            value: (*value).into(),
        })
        .collect()
}

/// What is different, in words.
pub fn words(bed: Bed, base: &[f64], values: &[f64]) -> String {
    let parts = bed.model.netlist.parts().iter();
    let changed = parts
        .zip(base.iter().zip(values))
        .filter(|(_, (a, b))| a != b);
    let word = |(part, (_, value)): (&crate::circuit::Part, (&f64, &f64))| {
        let unit = Unit::of(part.kind)?;
        Some(format!("{} = {}", part.name, exact(*value, unit)))
    };
    changed.filter_map(word).collect::<Vec<_>>().join(", ")
}
