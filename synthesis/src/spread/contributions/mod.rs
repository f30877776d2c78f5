//! Variance contributions: how much of each figure's variance every factor brings, in slices.
//!
//! Boards are drawn and each factor's linear share is tallied. Where that leaves too much unexplained, and for
//! the boards that miss a limit, Sobol's indices are worked out on boards that differ in one factor only.

use std::task::Poll;

mod estimate;
mod freeze;
mod tally;

pub use estimate::Estimate;
pub use freeze::Indices;
pub use tally::{Contribution, Tally};

use super::{Draws, Factor, Figures, Population};
use crate::stages::Figure;
use freeze::Freeze;

/// Where linear shares sum to less than this, a straight line is not the whole story.
pub const ENOUGH: f64 = 0.97;

/// Blocks of boards that are left out in turn for the standard errors.
const BLOCKS: usize = 32;
/// Boards between two questions whether to go on.
const STRETCH: usize = 64;
/// A figure that strays by less than this share of its value does not stray: that is rounding.
const STILL: f64 = 1e-10;

/// Which boards are looked at.
pub struct ContributionsSetting {
    /// Of what [`Figures`] reads.
    pub population: Population,
    pub seed: u64,
    /// Boards for the linear shares, and samples of Sobol's at most.
    pub boards: usize,
    /// Boards for Sobol's indices at most: a sample takes one and one more for each factor.
    pub most: usize,
    /// What boards are judged by: a figure's place, and its limits.
    pub limits: Vec<(usize, Figure)>,
}

/// What factors do to one figure, in the order of [`ContributionsRun::factors`].
#[derive(Clone, Debug, PartialEq)]
pub struct FactorShares {
    /// Whether the figure strays at all.
    pub variations: bool,
    /// Linear shares, and their sum.
    pub linear: Vec<Estimate>,
    pub explained: f64,
    /// Sobol's, where they were worked out.
    pub indices: Option<Indices>,
}

/// A stream of its own for the second boards.
const SECOND: u64 = 0x0062_6c61_6d65;

/// The run: [`ContributionsRun::advance`] until it says that it is done.
pub struct ContributionsRun {
    draws: Draws,
    second: Draws,
    /// Factors that move something, by their place among all.
    factors: Vec<usize>,
    limits: Vec<(usize, Figure)>,
    boards: usize,
    most: usize,
    /// The marked board's figures and 0 for a miss, empty until they are read.
    origins: Vec<f64>,
    /// Figures of the first boards, row after row; behind them 1 where the board misses a limit.
    read: Vec<f64>,
    /// `[figure][block]`
    tallies: Vec<Vec<Tally>>,
    freeze: Option<Freeze>,
    samples: usize,
    sampled: usize,
    is_tallied: bool,
}

impl ContributionsRun {
    pub fn new(setting: ContributionsSetting) -> ContributionsRun {
        let draws = Draws::new(setting.population.clone(), setting.seed);
        let all = draws.factors().into_iter().enumerate();
        let factors = all.filter(|(_, factor)| draws.moves(*factor));
        ContributionsRun {
            factors: factors.map(|(at, _)| at).collect(),
            second: Draws::new(setting.population, setting.seed ^ SECOND),
            draws,
            limits: setting.limits,
            boards: setting.boards.next_multiple_of(BLOCKS),
            most: setting.most,
            origins: Vec::new(),
            read: Vec::new(),
            tallies: Vec::new(),
            freeze: None,
            samples: 0,
            sampled: 0,
            is_tallied: false,
        }
    }

    /// Factors that move something.
    pub fn factors(&self) -> Vec<Factor> {
        let all = self.draws.factors();
        self.factors.iter().map(|&at| all[at]).collect()
    }

    /// Boards of the linear shares, and samples of Sobol's.
    pub fn boards(&self) -> (usize, usize) {
        (self.boards, self.samples)
    }

    /// The share that is done.
    pub fn progress(&self) -> f64 {
        let tallied = self.drawn() as f64;
        let per = (self.factors.len() + 1) as f64;
        let (done, all) = (
            tallied + per * self.sampled as f64,
            self.boards as f64
                + if self.is_tallied {
                    per * self.samples as f64
                } else {
                    self.most as f64
                },
        );
        done / all
    }

    /// Works until all is found or until `go_on` says no.
    pub fn advance(
        &mut self,
        figures: &mut dyn Figures,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Poll<()> {
        if self.origins.is_empty() {
            self.begin(figures);
        }
        while !self.is_tallied {
            if !go_on() {
                return Poll::Pending;
            }
            self.tally(figures);
        }
        while self.sampled < self.samples {
            if !go_on() {
                return Poll::Pending;
            }
            self.sample(figures);
        }
        Poll::Ready(())
    }

    /// Figures of a board, and whether it misses behind them.
    fn width(&self) -> usize {
        self.origins.len()
    }

    fn drawn(&self) -> usize {
        self.read.len() / self.width().max(1)
    }

    fn begin(&mut self, figures: &mut dyn Figures) {
        let variations = &self.draws.population().variations;
        let marked: Vec<f64> = variations
            .iter()
            .map(|variation| variation.nominal)
            .collect();
        let mut origins = vec![0.0; figures.count() + 1];
        figures.read(&marked, &mut |_, read| {
            for (origin, value) in origins.iter_mut().zip(read) {
                *origin = if value.is_finite() { *value } else { 0.0 };
            }
        });
        let tallies = origins
            .iter()
            .map(|&origin| vec![Tally::new(self.factors.len(), origin); BLOCKS]);
        self.tallies = tallies.collect();
        self.origins = origins;
    }

    /// Draws a stretch of the first boards and tallies it.
    fn tally(&mut self, figures: &mut dyn Figures) {
        let first = self.drawn();
        let count = STRETCH.min(self.boards - first);
        let mut units = vec![0.0; self.draws.unit_count()];
        let mut moved = vec![0.0; self.draws.factors().len()];
        let stride = self.draws.population().variations.len();
        let mut rows = vec![0.0; count * stride];
        let mut deviations = Vec::with_capacity(count * self.factors.len());
        for (offset, row) in rows.chunks_exact_mut(stride).enumerate() {
            self.draws.units((first + offset) as u64, &mut units);
            self.draws.values(&units, row);
            self.draws.factor_deviations(&units, &mut moved);
            deviations.extend(self.factors.iter().map(|&at| moved[at]));
        }
        let ContributionsRun { limits, read, .. } = self;
        figures.read(&rows, &mut |_, values| keep(limits, values, read));
        let (width, factors) = (self.width(), self.factors.len());
        for offset in 0..count {
            let block = (first + offset) * BLOCKS / self.boards;
            let moved = &deviations[offset * factors..][..factors];
            let values = &self.read[(first + offset) * width..][..width];
            for (tallies, value) in self.tallies.iter_mut().zip(values) {
                tallies[block].add(moved, *value);
            }
        }
        if self.drawn() == self.boards {
            self.is_tallied = true;
            self.decide();
        }
    }

    /// Whether Sobol's indices are needed, and on how many samples.
    fn decide(&mut self) {
        let last = self.width() - 1;
        let needs = |figure: usize| {
            let found = self.linear(figure);
            found.variations && (figure == last || found.explained < ENOUGH)
        };
        if !self.factors.is_empty() && (0..self.width()).any(needs) {
            let per = self.factors.len() + 1;
            let samples = (self.most / per / BLOCKS * BLOCKS).clamp(BLOCKS, self.boards);
            self.samples = samples;
            let means = self.tallies.iter().map(|tallies| {
                let (mean, _) = joined(tallies).moments();
                if mean.is_finite() { mean } else { 0.0 }
            });
            let origins = means.collect();
            self.freeze = Some(Freeze::new(origins, self.factors.len(), BLOCKS));
        }
    }

    /// One sample: the second board, and the first with each factor of the second.
    fn sample(&mut self, figures: &mut dyn Figures) {
        let number = self.sampled as u64;
        let stride = self.draws.population().variations.len();
        let mut first = vec![0.0; self.draws.unit_count()];
        let mut second = first.clone();
        self.draws.units(number, &mut first);
        self.second.units(number, &mut second);
        let mut rows = vec![0.0; (self.factors.len() + 1) * stride];
        let mut mixed = first.clone();
        for (row, factor) in rows
            .chunks_exact_mut(stride)
            .zip(std::iter::once(None).chain(self.factors.iter().map(Some)))
        {
            let Some(&factor) = factor else {
                self.draws.values(&second, row);
                continue;
            };
            let own = self.draws.units_of(factor);
            mixed[own.clone()].copy_from_slice(&second[own.clone()]);
            self.draws.values(&mixed, row);
            mixed[own.clone()].copy_from_slice(&first[own]);
        }
        let mut read = Vec::with_capacity((self.factors.len() + 1) * self.width());
        figures.read(&rows, &mut |_, values| {
            keep(&self.limits, values, &mut read);
        });
        let width = self.width();
        let a = &self.read[self.sampled * width..][..width];
        let (b, mixed) = read.split_at(width);
        let block = self.sampled * BLOCKS / self.samples;
        if let Some(freeze) = &mut self.freeze {
            freeze.add(block, a, b);
            for (factor, ab) in mixed.chunks_exact(width).enumerate() {
                freeze.add_mixed(block, factor, a, b, ab);
            }
        }
        self.sampled += 1;
    }

    /// How many of the first boards miss a limit.
    pub fn missed(&self) -> usize {
        let rows = self.read.chunks_exact(self.width().max(1));
        rows.filter(|row| row.last() == Some(&1.0)).count()
    }

    /// What factors do to a figure; behind the last one, to missing a limit.
    pub fn found(&self, figure: usize) -> FactorShares {
        FactorShares {
            indices: (self.freeze.as_ref()).map(|freeze| freeze.indices(figure)),
            ..self.linear(figure)
        }
    }

    fn linear(&self, figure: usize) -> FactorShares {
        let blocks = &self.tallies[figure];
        let whole = joined(blocks);
        let without: Vec<Vec<f64>> = blocks
            .iter()
            .map(|block| whole.without(block).shares())
            .collect();
        let (mean, deviation) = whole.moments();
        let shares = whole.shares();
        let variations = deviation > STILL * mean.abs();
        let linear: Vec<Estimate> = shares
            .iter()
            .enumerate()
            .map(|(factor, share)| {
                let rest: Vec<f64> = without.iter().map(|shares| shares[factor]).collect();
                Estimate::jackknife(*share, &rest)
            })
            .collect();
        FactorShares {
            variations,
            explained: shares.iter().sum(),
            linear,
            indices: None,
        }
    }
}

/// Keeps a board's figures, and behind them whether it misses a limit.
fn keep(limits: &[(usize, Figure)], values: &[f64], into: &mut Vec<f64>) {
    let misses = limits.iter().any(|(at, limit)| !limit.holds(values[*at]));
    into.extend_from_slice(values);
    into.push(f64::from(u8::from(misses)));
}

fn joined(blocks: &[Tally]) -> Tally {
    let mut whole = blocks[0].clone();
    for block in &blocks[1..] {
        whole.join(block);
    }
    whole
}
