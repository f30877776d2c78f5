//! Two modes closer than their widths: one, unless the sweep demands two; and two in one place set apart.

use std::task::Poll;

use super::data::Data;
use super::descent::{COARSE, Descent};
use super::judge::{self, Criterion, EXCLUDED, STRONG};
use crate::numerics::put_in_order;
use crate::plant::Mode;

/// Most steps of a model with one mode less.
const MOST_STEPS: u32 = 30;

/// By how much a model with one mode may be behind where the residues of two are ill-determined: the sweep then does not
/// tell two modes, whatever else it tells.
const ILL_DETERMINED: f64 = 60.0;
/// A residue that is known to no better than this share of itself is ill-determined.
pub(super) const ILL: f64 = 0.3;

/// Two modes nearer than this share of their widths stand in one place: their residues all but cancel, and no step of a
/// descent leads away from there.
const ONE_PLACE: f64 = 0.2;
/// They are set apart by this share of their widths, and damped by this share of theirs.
const APART: f64 = 0.7;

/// Trying, in pieces, one mode in the place of each pair of twins.
#[derive(Clone, Debug)]
pub(super) struct Merging {
    pub best: Descent,
    /// Pairs still to be tried.
    pairs: Vec<(usize, usize)>,
    /// By how much one mode may be behind; the models that are refined, and those that are.
    slack: f64,
    waiting: Vec<Descent>,
    refined: Vec<Descent>,
}

impl Merging {
    pub fn new(best: Descent) -> Merging {
        let free = |k: usize| {
            let free = best.free.modes[k];
            free.frequency && free.damping && free.residue
        };
        let pairs = best.model.twins().into_iter();
        Merging {
            pairs: pairs.filter(|(a, b)| free(*a) && free(*b)).collect(),
            best,
            slack: EXCLUDED,
            waiting: Vec::new(),
            refined: Vec::new(),
        }
    }

    /// A small piece; ready when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        if let Some(attempt) = self.waiting.last_mut() {
            if attempt.step(data).is_ready() {
                self.refined.extend(self.waiting.pop());
            }
            return Poll::Pending;
        }
        if !self.refined.is_empty() {
            let mut all = std::mem::take(&mut self.refined);
            all.push(self.best.clone());
            let criterion = Criterion::of(&all, data);
            let two = criterion.score(&self.best);
            all.pop();
            let score = |descent: &Descent| criterion.score(descent);
            let has_less =
                |descent: &Descent| descent.model.modes.len() < self.best.model.modes.len();
            put_in_order(&mut all, |a, b| score(a).total_cmp(&score(b)));
            let clearly_better = all.first().filter(|d| score(d) < two - STRONG);
            let one = all
                .iter()
                .find(|d| has_less(d) && score(d) <= two + self.slack);
            if let Some(new) = clearly_better.or(one) {
                *self = Merging::new(new.clone());
            }
            return Poll::Pending;
        }
        let Some((a, b)) = self.pairs.pop() else {
            return Poll::Ready(());
        };
        let is_ill = judge::doubt_of_residues(&self.best, data);
        let is_ill = is_ill[a] > ILL || is_ill[b] > ILL;
        self.slack = if is_ill { ILL_DETERMINED } else { EXCLUDED };
        self.waiting = merged(&self.best, a, b, data);
        self.waiting.extend(set_apart(&self.best, a, b, data));
        Poll::Pending
    }
}

/// One mode for two: between them with a slope, which can make up for a difference of their phases, or either alone.
fn merged(best: &Descent, a: usize, b: usize, data: &Data) -> Vec<Descent> {
    let (first, second) = (best.model.modes[a], best.model.modes[b]);
    let weight = |mode: Mode| mode.height() + f64::MIN_POSITIVE;
    let share = weight(first) / (weight(first) + weight(second));
    let between = Mode {
        frequency: first.frequency * share + second.frequency * (1.0 - share),
        damping: first.damping.max(second.damping),
        slope: 0.0,
        ..first
    };
    let with = |own: Mode, slope: bool| {
        let mut one = best.clone();
        one.model.modes[a] = Mode { slope: 0.0, ..own };
        one.free.modes[a].slope = slope;
        one.model.modes.remove(b);
        one.free.modes.remove(b);
        one.resume(COARSE, data);
        one.at_most(MOST_STEPS)
    };
    vec![
        with(between, true),
        with(between, false),
        with(first, false),
        with(second, false),
    ]
}

/// Two modes in one place set apart, with and without each of the others that overlap with them.
fn set_apart(best: &Descent, a: usize, b: usize, data: &Data) -> Vec<Descent> {
    let (first, second) = (best.model.modes[a], best.model.modes[b]);
    let widths = first.damping * first.frequency + second.damping * second.frequency;
    if (first.frequency - second.frequency).abs() > ONE_PLACE * widths {
        return Vec::new();
    }
    let mut apart = best.clone();
    for (k, side) in [(a, -0.5), (b, 0.5)] {
        let mode = &mut apart.model.modes[k];
        mode.frequency += side * APART * widths;
        mode.damping *= APART;
        mode.slope = 0.0;
        apart.free.modes[k].slope = false;
    }
    let companies = best.model.companies();
    let company = companies.into_iter().find(|company| company.contains(&a));
    let others = company.into_iter().flatten().filter(|k| *k != a && *k != b);
    let without = |k: usize| {
        let mut fewer = apart.clone();
        fewer.model.modes.remove(k);
        fewer.free.modes.remove(k);
        fewer
    };
    let mut all: Vec<Descent> = others.map(without).collect();
    all.push(apart);
    let begun = |mut descent: Descent| {
        descent.resume(COARSE, data);
        descent.at_most(MOST_STEPS)
    };
    all.into_iter().map(begun).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::fit::settings::Free;
    use crate::plant::fit::terms::Limits;
    use crate::plant::{Model, Rigid};
    use num_complex::Complex64;
    use std::f64::consts::TAU;

    fn mode(frequency: f64, residue: f64) -> Mode {
        Mode {
            frequency,
            damping: 0.02,
            residue,
            slope: 0.0,
        }
    }

    fn ended(truth: &Model, start: Model) -> usize {
        let omega: Vec<f64> = (0..300).map(|i| 0.3 * 1.01f64.powi(i)).collect();
        let response: Vec<Complex64> = omega
            .iter()
            .enumerate()
            .map(|(i, w)| truth.at(w / TAU) * (1.0 + 0.01 * Complex64::cis(i as f64 * 1.7)))
            .collect();
        let data = Data {
            weight: response.iter().map(|p| 1.0 / p.norm()).collect(),
            trust: vec![1.0; response.len()],
            omega,
            response,
        };
        let free = Free::usual(&start);
        let mut best = Descent::new(start, free, Limits::of(&data), &data);
        while best.step(&data).is_pending() {}
        let mut merging = Merging::new(best);
        while merging.step(&data).is_pending() {}
        merging.best.model.modes.len()
    }

    #[test]
    fn one_mode_seen_twice_becomes_one_and_two_stay_two() {
        let with = |modes: Vec<Mode>| Model {
            rigid: Some(Rigid::new(0, 0.1)),
            modes,
            ..Model::default()
        };
        let twice = vec![mode(0.159, 0.1), mode(0.1592, -0.05)];
        assert_eq!(ended(&with(vec![mode(0.16, 0.05)]), with(twice)), 1);
        let two = with(vec![mode(0.158, 0.05), mode(0.163, -0.04)]);
        assert_eq!(ended(&two, two.clone()), 2);
    }
}
