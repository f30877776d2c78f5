//! What brings the figures home: one value that is changed, put in parallel or in series; the mistake put right; a
//! trimmer turned.
//!
//! Every change is tried on boards that might have made the measurement, by every cause that is still likely: so the
//! promise knows how well the board is known. For each part the change that would be best is sought on the most
//! probable boards; what the shelf has near it is tried.

use std::mem;
use std::sync::Arc;
use std::task::Poll;

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::cause::{Idea, PartAt};
use super::setting::Setting;
use super::trimmer::Turn;
use crate::circuit::Kind;
use crate::numerics::put_in_order;
use crate::parts::Bin;
use crate::quantity::Unit;
use crate::random::uniform;
use crate::spread::{Reader, Rows, VariationKind, quantiles};
use crate::stages::Scratch;

/// How far a part is changed at most, as a logarithm.
const FARTHEST: f64 = 0.5;
/// Changes that are looked at to each side, closer to nothing the finer; then round the best one, twice.
const SIDE: i32 = 16;
const ROUND: i32 = 4;
/// A miss counts as this at most.
const LOST: f64 = 4.0;
/// Shelf values near what would be best.
const NEAR: usize = 3;
/// Changes that are tried on all boards.
const TRIED: usize = 10;
/// Single changes that a second one is sought for.
const SEEDS: usize = 3;
/// A single change that promises so much needs no second one.
const ENOUGH: f64 = 0.9;
/// Changes that are told.
const TOLD: usize = 5;
/// Promises closer than this are alike.
const ALIKE: f64 = 0.025;
/// A board whose figures hold with this probability is left alone.
const HOLDS: f64 = 0.95;
/// The same where no change promises more by this.
const LIKELY: f64 = 0.5;
const MORE: f64 = 0.05;
/// A change that promises this much brings the figures home; so does one whose most probable board holds its limits, with
/// what it promises told.
const HOME: f64 = 0.5;

/// What is done to one part.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Action {
    /// A new part of this marked value, Ω or F.
    Replace(f64),
    /// A part of this value in parallel with the one that is there.
    Parallel(f64),
    /// A part of this value in series with the one that is there.
    Series(f64),
    /// The mistake is put right: this part as marked, in its place.
    PutRight,
    /// Turned; the value that it shall have, Ω.
    Turn(f64),
}

/// One part that is changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    pub at: PartAt,
    pub unit: Unit,
    pub action: Action,
}

/// A figure, before and after.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FigureValue {
    /// Place of its stage in the path.
    pub stage: usize,
    /// For scripts, and for people.
    pub name: String,
    pub label: String,
    pub unit: Unit,
    #[serde(with = "crate::nullable")]
    pub before: f64,
    /// The same as before where nothing was done.
    #[serde(with = "crate::nullable")]
    pub after: f64,
    /// Half of what lies between 16 % and 84 % of the boards that it might be: of those whose measurement is right, where
    /// that is likelier than that its gain is off.
    #[serde(with = "crate::nullable")]
    pub uncertainty: f64,
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
    /// Share of the boards that it might be on which it stands within its limits afterwards.
    pub holds: f64,
}

/// A change, and what it promises.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Repair {
    /// One, seldom two.
    pub steps: Vec<Step>,
    /// Probability that all limits hold then.
    pub probability: f64,
    /// The worst miss then, on the most probable board: 1 is on its limit.
    #[serde(with = "crate::nullable")]
    pub miss: f64,
    pub figures: Vec<FigureValue>,
    /// How to turn, where a trimmer is turned.
    pub turn: Option<Turn>,
}

/// Whether anything is to be done.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RepairVerdict {
    /// The board holds its limits with this probability.
    NothingToDo(f64),
    /// The first repair brings it home with this probability.
    Home(f64),
    /// Nothing does; the best one leaves a miss of so many limits.
    Missed(f64),
    /// No limits are asked for.
    NoLimits,
    /// Nothing explains the measurement, so that nothing can be promised.
    Unknown,
}

/// A board that might have been measured, with the cause that made it so.
#[derive(Clone)]
pub(super) struct Suspect {
    pub idea: Idea,
    pub numbers: Vec<f64>,
    /// The same without the mistake.
    pub righted: Vec<f64>,
    pub weight: f64,
}

/// What is done, by numbers of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Change {
    Replace(usize, f64),
    Parallel(usize, f64),
    Series(usize, f64),
    PutRight(Idea),
    /// To a value, by a difference: what is turned is the difference.
    Turn(usize, f64, f64),
}

/// A candidate.
#[derive(Clone)]
struct Candidate {
    changes: Vec<Change>,
    miss: f64,
}

/// What a candidate makes of all boards.
struct Tried {
    changes: Vec<Change>,
    probability: f64,
    miss: f64,
    /// Of every stage.
    stages: Vec<Arc<StageTried>>,
}

/// One stage's figures, figure by figure, board by board, and whether each board holds its limits.
struct StageTried {
    figures: Vec<Vec<f64>>,
    holds: Vec<bool>,
}

/// The search for repairs.
pub(super) struct RepairWork {
    /// The most probable boards, and boards drawn.
    centres: Vec<Suspect>,
    boards: Vec<Suspect>,
    firsts: Vec<usize>,
    /// Figures as marked, of every stage: hints.
    hints: Vec<Vec<f64>>,
    before: Option<Tried>,
    /// Changes before the one that is sought, and the numbers that may be changed yet, the last one first.
    seeds: Vec<Vec<Change>>,
    left: Vec<usize>,
    /// Which of the changes before is next for the last number.
    seed_at: usize,
    round: usize,
    candidates: Vec<Candidate>,
    tried: Vec<Tried>,
    seed: u64,
    scratch: Scratch,
}

impl RepairWork {
    /// `centres` are the most probable boards of the likeliest causes, `boards` what else it might be.
    pub fn new(setting: &Setting, centres: Vec<Suspect>, boards: Vec<Suspect>) -> RepairWork {
        let mut scratch = Scratch::default();
        let stages = setting.stages.iter();
        let hints = stages.map(|of| of.model.figures(&of.values, None, &mut scratch));
        RepairWork {
            hints: hints.collect(),
            firsts: setting.firsts(),
            left: changeable(setting),
            seeds: vec![Vec::new()],
            seed: setting.seed,
            before: None,
            seed_at: 0,
            round: 0,
            candidates: Vec::new(),
            tried: Vec::new(),
            centres,
            boards,
            scratch,
        }
    }

    /// Works on; gives the repairs, the best one first, and how the board stands as it is.
    pub fn advance(
        &mut self,
        setting: &Setting,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<(RepairVerdict, Vec<Repair>, Vec<FigureValue>)> {
        if self.before.is_none() {
            self.before = Some(self.try_out(setting, &[]));
            let mut ideas: Vec<Idea> = Vec::new();
            for idea in self.centres.iter().map(|centre| centre.idea) {
                if idea.is_wiring() && !ideas.contains(&idea) {
                    ideas.push(idea);
                }
            }
            let all: Vec<Change> = ideas.into_iter().map(Change::PutRight).collect();
            for one in &all {
                self.propose(setting, vec![*one]);
            }
            // All that it may be is looked at, and put right where it is wrong.
            if all.len() > 1 {
                self.propose(setting, all);
            }
        }
        loop {
            while let Some(number) = self.left.last().copied() {
                if !go_on() {
                    return Poll::Pending;
                }
                if let Some(seed) = self.seeds.get(self.seed_at).cloned() {
                    self.seek(setting, &seed, number);
                    self.seed_at += 1;
                } else {
                    self.seed_at = 0;
                    self.left.pop();
                }
            }
            put_in_order(&mut self.candidates, |a, b| b.miss.total_cmp(&a.miss));
            let surplus = self.candidates.len().saturating_sub(TRIED);
            self.candidates.drain(..surplus);
            while let Some(candidate) = self.candidates.pop() {
                let tried = self.try_out(setting, &candidate.changes);
                self.tried.push(tried);
                if !go_on() {
                    return Poll::Pending;
                }
            }
            sort(&mut self.tried);
            let best = self.tried.first().map_or(0.0, |best| best.probability);
            let as_it_is = self.before.as_ref().map_or(0.0, |b| b.probability);
            if self.round > 0 || best.max(as_it_is) >= ENOUGH {
                return Poll::Ready(self.told(setting));
            }
            self.round += 1;
            // What comes nearest, one change of each part.
            let mut seeds: Vec<Vec<Change>> = Vec::new();
            let mut by_miss: Vec<&Tried> = self.tried.iter().collect();
            put_in_order(&mut by_miss, |a, b| a.miss.total_cmp(&b.miss));
            for tried in by_miss {
                let is_new = !seeds
                    .iter()
                    .any(|s| s[0].number() == tried.changes[0].number());
                if seeds.len() < SEEDS && is_new {
                    seeds.push(tried.changes.clone());
                }
            }
            self.seeds = seeds;
            self.left = changeable(setting);
        }
    }

    /// Looks for the best change of one number after others.
    fn seek(&mut self, setting: &Setting, before: &[Change], number: usize) {
        if before.iter().any(|change| change.touches(number)) {
            return;
        }
        let changed: Vec<(f64, Vec<f64>)> = self
            .centres
            .iter()
            .map(|centre| (centre.weight, after(setting, centre, before, None)))
            .collect();
        let Some((_, leading)) = changed.first() else {
            return;
        };
        let now = leading[number];
        let place = setting.places()[number];
        let trimmer = setting.trimmer(place);
        let grid: Vec<f64> = (-SIDE..=SIDE)
            .map(|k| {
                let share = f64::from(k) / f64::from(SIDE);
                FARTHEST * share * share.abs()
            })
            .collect();
        let mut best = self.best_of(setting, &changed, number, &grid);
        for fine in [1.0, 1.0 / f64::from(ROUND)] {
            let width = fine * (FARTHEST / f64::from(SIDE)).min(0.3 * best.0.abs() + 0.01);
            let close: Vec<f64> = (-ROUND..=ROUND)
                .map(|k| best.0 + width * f64::from(k) / f64::from(ROUND))
                .collect();
            let found = self.best_of(setting, &changed, number, &close);
            if found.1 < best.1 {
                best = found;
            }
        }
        let wanted = best.0;
        if let Some(trimmer) = trimmer {
            let to = (now * wanted.exp()).clamp(trimmer.fixed, trimmer.fixed + trimmer.range);
            let change = Change::Turn(number, to, to - now);
            self.propose(setting, [before, &[change]].concat());
            return;
        }
        let kind = setting.kind(place);
        let Some(bin) = setting.shelf.bin(kind) else {
            return;
        };
        let mut changes: Vec<Change> = Vec::new();
        let marked = setting.population.variations[number].nominal;
        changes.push(Change::Replace(number, marked));
        let replaced = near(bin, now * wanted.exp()).into_iter();
        changes.extend(
            replaced
                .filter(|v| *v != marked)
                .map(|v| Change::Replace(number, v)),
        );
        // A larger resistance by one in series, a smaller one by one in parallel; capacitors the other way.
        let is_series = matches!(kind, Kind::Resistor { .. }) == (wanted > 0.0);
        let beside = match is_series == matches!(kind, Kind::Resistor { .. }) {
            true => now * wanted.exp_m1(),
            false => now / (-wanted).exp_m1(),
        };
        if wanted.abs() > 1e-4 {
            changes.extend(near(bin, beside).into_iter().map(|value| match is_series {
                true => Change::Series(number, value),
                false => Change::Parallel(number, value),
            }));
        }
        for change in changes {
            self.propose(setting, [before, &[change]].concat());
        }
    }

    /// The best change of one number among some, and what it misses by.
    fn best_of(
        &mut self,
        setting: &Setting,
        boards: &[(f64, Vec<f64>)],
        number: usize,
        changes: &[f64],
    ) -> (f64, f64) {
        let stage = self.firsts.partition_point(|first| *first <= number) - 1;
        let model = &setting.stages[stage].model;
        let (from, to) = (self.firsts[stage], self.firsts[stage + 1]);
        let all: Vec<(Vec<f64>, Option<&[f64]>)> = changes
            .iter()
            .flat_map(|by| {
                boards.iter().map(move |(_, numbers)| {
                    let mut inputs = numbers[from..to].to_vec();
                    inputs[number - from] *= by.exp();
                    (inputs, None)
                })
            })
            .collect();
        let terms = model.terms_of_inputs(&all, &mut self.scratch);
        let shape = model.term_shape();
        let each = terms.chunks(boards.len()).map(|of| {
            let misses = of.iter().map(|terms| shape.miss(terms).min(LOST).powi(2));
            let weighted = misses
                .zip(boards)
                .map(|(square, (weight, _))| weight * square);
            weighted.sum::<f64>()
        });
        let found = changes.iter().copied().zip(each);
        let better = |best: (f64, f64), next: (f64, f64)| if next.1 < best.1 { next } else { best };
        found.fold((0.0, f64::INFINITY), better)
    }

    /// Takes a candidate in with what it misses by on the most probable boards.
    fn propose(&mut self, setting: &Setting, changes: Vec<Change>) {
        let mut miss = 0.0;
        for centre in &self.centres {
            let numbers = after(setting, centre, &changes, None);
            let of = miss_of(setting, &self.firsts, &numbers, &mut self.scratch);
            miss += centre.weight * of.min(LOST).powi(2);
        }
        self.candidates.push(Candidate { changes, miss });
    }

    /// Tries changes on all boards.
    fn try_out(&mut self, setting: &Setting, changes: &[Change]) -> Tried {
        let mut state = self.seed;
        let stride = self.firsts[self.firsts.len() - 1];
        let mut rows = Vec::with_capacity(stride * self.boards.len());
        for board in &self.boards {
            rows.extend(after(setting, board, changes, Some(&mut state)));
        }
        let numbers = |change: &Change| {
            (0..stride)
                .filter(|n| change.touches(*n))
                .collect::<Vec<_>>()
        };
        let touched: Vec<usize> = changes.iter().flat_map(numbers).collect();
        let each = (0..setting.stages.len()).map(|stage| {
            let own = self.firsts[stage]..self.firsts[stage + 1];
            match &self.before {
                // Nothing of this stage is changed.
                Some(before) if !touched.iter().any(|n| own.contains(n)) => {
                    Arc::clone(&before.stages[stage])
                }
                _ => Arc::new(self.read(setting, stage, &rows)),
            }
        });
        let stages: Vec<Arc<StageTried>> = each.collect();
        let holds = (0..self.boards.len()).map(|b| stages.iter().all(|stage| stage.holds[b]));
        let holds: Vec<bool> = holds.collect();
        let good = self.boards.iter().zip(&holds).filter(|(_, holds)| **holds);
        let probability = good.map(|(board, _)| board.weight).sum();
        let miss = self.centres.first().map_or(f64::INFINITY, |centre| {
            let numbers = after(setting, centre, changes, None);
            miss_of(setting, &self.firsts, &numbers, &mut self.scratch)
        });
        Tried {
            changes: changes.to_vec(),
            probability,
            miss,
            stages,
        }
    }

    /// The figures of one stage of some boards.
    fn read(&self, setting: &Setting, stage: usize, rows: &[f64]) -> StageTried {
        let model = &setting.stages[stage].model;
        let mut figures = vec![Vec::new(); self.hints[stage].len()];
        let mut holds = Vec::with_capacity(self.boards.len());
        let all = Rows {
            numbers: rows,
            stride: self.firsts[self.firsts.len() - 1],
            first: self.firsts[stage],
        };
        Reader::new(model).each(model, all, &self.hints[stage], |_, read| {
            holds.push(model.yardstick.keeps_all(read));
            for (list, value) in figures.iter_mut().zip(read) {
                list.push(*value);
            }
        });
        StageTried { figures, holds }
    }

    fn told(&mut self, setting: &Setting) -> (RepairVerdict, Vec<Repair>, Vec<FigureValue>) {
        let before = self.before.take();
        let is_limited = |of: &super::SettingStage| {
            let mut figures = of.model.yardstick.figures().iter();
            figures.any(|figure| figure.is_limited())
        };
        let as_it_is = before.as_ref().map_or(0.0, |tried| tried.probability);
        let now = before.as_ref().map(|b| self.values(setting, b, b));
        let now = now.unwrap_or_default();
        if !setting.stages.iter().any(is_limited) {
            return (RepairVerdict::NoLimits, Vec::new(), now);
        }
        let best = self.tried.first().map(|best| (best.probability, best.miss));
        let is_ill = self.centres.first().is_some_and(|c| c.idea.is_wiring());
        let promised = best.map_or(0.0, |(probability, _)| probability);
        let is_well = as_it_is >= HOLDS || (as_it_is >= LIKELY && promised < as_it_is + MORE);
        let verdict = match best {
            _ if is_well && !is_ill => RepairVerdict::NothingToDo(as_it_is),
            Some((probability, miss)) if probability >= HOME || miss <= 1.0 => {
                RepairVerdict::Home(probability)
            }
            Some((_, miss)) => RepairVerdict::Missed(miss),
            None => RepairVerdict::Missed(before.as_ref().map_or(f64::INFINITY, |b| b.miss)),
        };
        let repairs = ways(setting, &self.tried).into_iter().take(TOLD);
        let repairs = repairs.map(|(steps, tried)| Repair {
            steps,
            probability: tried.probability,
            miss: tried.miss,
            figures: match &before {
                Some(before) => self.values(setting, before, tried),
                None => Vec::new(),
            },
            turn: tried
                .changes
                .iter()
                .find_map(|change| self.turn(setting, *change)),
        });
        (verdict, repairs.collect(), now)
    }

    /// Figures before and after.
    fn values(&self, setting: &Setting, before: &Tried, after: &Tried) -> Vec<FigureValue> {
        let mut all = Vec::new();
        // A board whose measurement is wrong has figures of its own, far away. Taken together with the others they would be
        // told as a doubt in figures that were measured well.
        let is_wrong = |board: &Suspect| board.idea == Idea::MeasuredGain;
        let first = self.centres.first();
        let is_kept = |board: &Suspect| first.is_some_and(is_wrong) || !is_wrong(board);
        let kept = |values: &[f64]| -> Vec<f64> {
            let pairs = values.iter().zip(&self.boards);
            let own: Vec<f64> = pairs.filter(|(_, b)| is_kept(b)).map(|(v, _)| *v).collect();
            if own.is_empty() { values.to_vec() } else { own }
        };
        for (stage, of) in setting.stages.iter().enumerate() {
            for (at, figure) in of.model.yardstick.figures().iter().enumerate() {
                let values = &after.stages[stage].figures[at];
                let [low, middle, high] = quantiles(&kept(values), [0.16, 0.5, 0.84]);
                let good = values.iter().zip(&self.boards);
                let good = good.filter(|(value, _)| figure.keeps(**value));
                all.push(FigureValue {
                    stage,
                    name: figure.name.to_owned(),
                    label: figure.label.clone(),
                    unit: figure.unit,
                    before: quantiles(&kept(&before.stages[stage].figures[at]), [0.5])[0],
                    after: middle,
                    uncertainty: (high - low) / 2.0,
                    lowest: figure.lowest,
                    highest: figure.highest,
                    holds: good.map(|(_, board)| board.weight).sum(),
                });
            }
        }
        all
    }

    fn turn(&self, setting: &Setting, change: Change) -> Option<Turn> {
        let Change::Turn(number, to, by) = change else {
            return None;
        };
        let trimmer = setting.trimmer(setting.places()[number])?;
        let end = trimmer.fixed + trimmer.range;
        let is_at_end = to <= trimmer.fixed || to >= end;
        Some(Turn {
            stage: trimmer.stage,
            part: trimmer.part.clone(),
            turns: by / trimmer.range * trimmer.turns,
            from: to - by,
            to,
            is_within_reach: !is_at_end,
        })
    }
}

impl Change {
    fn number(self) -> usize {
        match self {
            Change::Replace(n, _)
            | Change::Parallel(n, _)
            | Change::Series(n, _)
            | Change::Turn(n, _, _) => n,
            Change::PutRight(idea) => idea.touched().first().copied().unwrap_or(usize::MAX),
        }
    }

    fn touches(self, number: usize) -> bool {
        match self {
            Change::PutRight(idea) => idea.touched().contains(&number),
            _ => self.number() == number,
        }
    }

    /// How much of an intervention it is.
    fn effort(self) -> u32 {
        match self {
            Change::Turn(..) => 0,
            Change::PutRight(_) => 1,
            Change::Parallel(..) => 2,
            Change::Replace(..) => 3,
            Change::Series(..) => 4,
        }
    }

    fn told(self, setting: &Setting) -> Vec<Step> {
        let places = setting.places();
        let step = |number: usize, action: Action| {
            let place = places[number];
            let part = &setting.stages[place.stage].model.netlist.parts()[place.part];
            Some(Step {
                at: PartAt {
                    stage: place.stage,
                    part: part.name.clone(),
                },
                unit: Unit::of(part.kind)?,
                action,
            })
        };
        let one = match self {
            Change::Replace(n, value) => step(n, Action::Replace(value)),
            Change::Parallel(n, value) => step(n, Action::Parallel(value)),
            Change::Series(n, value) => step(n, Action::Series(value)),
            Change::Turn(n, value, _) => step(n, Action::Turn(value)),
            Change::PutRight(idea) => {
                let touched = idea.touched().into_iter();
                return touched.filter_map(|n| step(n, Action::PutRight)).collect();
            }
        };
        one.into_iter().collect()
    }
}

/// The best of each way: neighbours on the shelf do the same, and so does the same part put right for another reason.
fn ways<'a>(setting: &Setting, tried: &'a [Tried]) -> Vec<(Vec<Step>, &'a Tried)> {
    let mut ways: Vec<(Vec<Step>, &Tried)> = Vec::new();
    for one in tried {
        let own = steps(setting, &one.changes);
        let is_same = |a: &Step, b: &Step| {
            a.at == b.at && mem::discriminant(&a.action) == mem::discriminant(&b.action)
        };
        let is_known = |(known, _): &(Vec<Step>, &Tried)| {
            known.len() == own.len() && known.iter().zip(&own).all(|(a, b)| is_same(a, b))
        };
        if !ways.iter().any(is_known) {
            ways.push((own, one));
        }
    }
    ways
}

/// What is done, each part once.
fn steps(setting: &Setting, changes: &[Change]) -> Vec<Step> {
    let mut all: Vec<Step> = Vec::new();
    for step in changes.iter().flat_map(|change| change.told(setting)) {
        if !all.contains(&step) {
            all.push(step);
        }
    }
    all
}

/// The best ones first.
fn sort(tried: &mut [Tried]) {
    let step = |t: &Tried| (t.probability / ALIKE).round();
    let effort = |t: &Tried| t.changes.iter().map(|c| c.effort()).max().unwrap_or(0);
    put_in_order(tried, |a, b| {
        let by_promise = step(b).total_cmp(&step(a));
        let by_count = a.changes.len().cmp(&b.changes.len());
        let by_effort = effort(a).cmp(&effort(b));
        let by_miss = a.miss.total_cmp(&b.miss);
        by_promise.then(by_count).then(by_effort).then(by_miss)
    });
}

/// A board's numbers after changes; new parts are as marked, or drawn where there is a state to draw from.
fn after(
    setting: &Setting,
    board: &Suspect,
    changes: &[Change],
    mut state: Option<&mut u64>,
) -> Vec<f64> {
    let mut numbers = board.numbers.clone();
    for change in changes {
        let mut new = |number: usize, value: f64| match &mut state {
            Some(state) => value * drawn(setting, number, state),
            None => value,
        };
        match *change {
            Change::Replace(n, value) => numbers[n] = new(n, value),
            Change::Turn(n, _, by) => numbers[n] = (numbers[n] + by).max(1e-3 * numbers[n]),
            Change::Parallel(n, value) | Change::Series(n, value) => {
                let beside = new(n, value);
                let is_resistor =
                    matches!(setting.kind(setting.places()[n]), Kind::Resistor { .. });
                let is_series = matches!(change, Change::Series(..));
                numbers[n] = match is_resistor == is_series {
                    true => numbers[n] + beside,
                    false => numbers[n] * beside / (numbers[n] + beside),
                };
            }
            Change::PutRight(idea) => {
                if board.idea == idea {
                    for n in idea.touched() {
                        numbers[n] = board.righted[n];
                    }
                }
            }
        }
    }
    numbers
}

/// A new part over its marked value.
fn drawn(setting: &Setting, number: usize, state: &mut u64) -> f64 {
    let variation = &setting.population.variations[number];
    if variation.kind != VariationKind::Ratio {
        return 1.0;
    }
    let share = uniform(state).clamp(1e-9, 1.0 - 1e-9);
    let common = variation.shared.map_or(0.0, |with| {
        let normal = Normal::standard().inverse_cdf(uniform(state).clamp(1e-9, 1.0 - 1e-9));
        with.reach.tolerance / 3f64.sqrt() * normal
    });
    1.0 + variation.own.tolerance * variation.distribution.ready().at(share) + common
}

/// The worst miss of a path's stages.
fn miss_of(setting: &Setting, firsts: &[usize], numbers: &[f64], scratch: &mut Scratch) -> f64 {
    let mut worst: f64 = 0.0;
    for (stage, of) in setting.stages.iter().enumerate() {
        let inputs = &numbers[firsts[stage]..firsts[stage + 1]];
        worst = worst.max(of.model.worst_miss_of_inputs(inputs, scratch));
    }
    worst
}

/// Values of a bin round one.
fn near(bin: &Bin, value: f64) -> Vec<f64> {
    if !value.is_finite() || value <= 0.0 {
        return Vec::new();
    }
    let mut values = bin.values();
    values.retain(|v| (v / value).ln().abs() < 1.0);
    put_in_order(&mut values, |a, b| {
        let off = |v: f64| (v / value).ln().abs();
        off(*a).total_cmp(&off(*b))
    });
    values.truncate(NEAR);
    values
}

/// The bought parts, by their numbers.
fn changeable(setting: &Setting) -> Vec<usize> {
    let places = setting.places();
    (0..places.len())
        .filter(|&n| setting.is_bought(places[n]))
        .collect()
}
