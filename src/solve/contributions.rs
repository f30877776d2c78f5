//! Variance contributions on the shown stage: what goes into the run, and what is told of it.

use std::task::Poll;

use super::population::{factor_label, factor_part, population_of};
use super::spread::BoardsOf;
use super::task::{Asked, Before, Blocked, Task, Turn};
use crate::design::InputError;
use crate::outcome::{
    ContributingFactor, ContributionMethod, ContributionsOutcome, FigureContributions, Outcome,
};
use crate::quantity::{Unit, rounded};
use crate::spread::{
    ContributionsRun, ContributionsSetting, ENOUGH, Estimate, FactorShares, PhaseAt, StageFigures,
};

/// Boards for the linear shares, and for Sobol's indices at most: together half a second's work or less.
const BOARDS: usize = 4096;
const MOST: usize = 64 * 1024;
/// With fewer bad boards than this no contributions to them are computed.
const LEAST_BAD: usize = 40;

/// The run over boards.
pub(super) struct Contributions(ContributionsRun);

impl Task for Contributions {
    const FIELD: &'static str = "blame";
    type Reads = BoardsOf;
    type Finds = ContributionsOutcome;

    fn reads(asked: &Asked) -> Result<Option<BoardsOf>, Blocked> {
        Ok(BoardsOf::reads(asked)?.filter(|_| asked.design.view.contributions))
    }

    fn begin(
        of: &BoardsOf,
        _: Option<Before<Contributions>>,
    ) -> Result<Contributions, Vec<InputError>> {
        let shown = of.shown();
        let all = shown.real.yardstick.figures().iter().cloned().enumerate();
        let stage = &of.design.stages[of.design.view.stage];
        Ok(Contributions(ContributionsRun::new(ContributionsSetting {
            population: population_of(&of.design, stage, (&shown.real, &shown.found.values)),
            seed: of.design.spread.seed,
            boards: BOARDS,
            most: MOST,
            limits: all.filter(|(_, figure)| figure.is_limited()).collect(),
        })))
    }

    fn advance(
        &mut self,
        of: &BoardsOf,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<ContributionsOutcome> {
        let shown = of.shown();
        let phase = PhaseAt::new(of.design.view.phase_at, &shown.found.transfers[2]);
        let mut read = StageFigures::new(&shown.real, &shown.found.figures, phase);
        match self.0.advance(&mut read, go_on) {
            Poll::Ready(()) => Turn::Found(told(&self.0, of)),
            Poll::Pending => Turn::More(self.0.progress()),
        }
    }

    fn tell(_: &BoardsOf, found: &ContributionsOutcome, outcome: &mut Outcome) {
        outcome.contributions = Some(found.clone());
    }
}

fn told(run: &ContributionsRun, of: &BoardsOf) -> ContributionsOutcome {
    let shown = of.shown();
    let model = &[&shown.real][..];
    let factors = run.factors().into_iter().map(|factor| ContributingFactor {
        label: factor_label(model, factor),
        part: factor_part(model, factor),
    });
    let figures = &shown.found.outcome.figures;
    let told = figures
        .iter()
        .enumerate()
        .map(|(index, figure)| of_figure(run, run.found(index), &figure.name, &figure.label));
    let (boards, samples) = run.boards();
    ContributionsOutcome {
        factors: factors.collect(),
        figures: told.collect(),
        misses: of_misses(run, run.found(figures.len())),
        boards: boards as u32,
        samples: samples as u32,
    }
}

fn of_figure(
    run: &ContributionsRun,
    found: FactorShares,
    name: &str,
    label: &str,
) -> FigureContributions {
    let (boards, _) = run.boards();
    let mut contributions = match &found.indices {
        Some(_) if found.explained < ENOUGH => by_total_order(name, label, &found),
        _ => FigureContributions {
            name: name.into(),
            label: label.into(),
            method: ContributionMethod::Linear,
            shares: values(&found.linear),
            errors: errors(&found.linear),
            linear: found.explained,
            first: Vec::new(),
            told: String::new(),
        },
    };
    if !found.variations {
        contributions.shares.clear();
        contributions.errors.clear();
        contributions.told = "It does not vary.".into();
        return contributions;
    }
    contributions.told = match contributions.method {
        ContributionMethod::Linear => format!(
            "Squared correlation over {boards} boards: a linear model explains {} of the variance. {}",
            rounded(found.explained.min(1.0), Unit::Percent, 3),
            standard_error(&contributions.errors)
        ),
        ContributionMethod::TotalOrder => format!(
            "A linear model explains only {} of the variance, so these are Sobol's total-order indices, {}",
            rounded(found.explained, Unit::Percent, 2),
            of_total(run, &contributions)
        ),
    };
    contributions
}

/// What costs the yield.
fn of_misses(run: &ContributionsRun, found: FactorShares) -> FigureContributions {
    let (boards, _) = run.boards();
    let mut contributions = by_total_order("yield", "Yield", &found);
    let missed = run.missed();
    contributions.told = if missed == 0 {
        format!("None of {boards} boards is outside a limit.")
    } else if missed == boards {
        format!("All of {boards} boards are outside a limit.")
    } else if missed.min(boards - missed) < LEAST_BAD {
        format!(
            "{missed} of {boards} boards are outside a limit: too few on one side to compute contributions."
        )
    } else {
        format!(
            "{missed} of {boards} boards are outside a limit. Sobol's total-order indices of being outside any, {}",
            of_total(run, &contributions)
        )
    };
    if missed.min(boards - missed) < LEAST_BAD {
        contributions.shares.clear();
        contributions.errors.clear();
        contributions.first.clear();
    }
    contributions
}

fn by_total_order(name: &str, label: &str, found: &FactorShares) -> FigureContributions {
    let indices = found.indices.as_ref();
    let of = |indices: Option<&Vec<Estimate>>, read: fn(&[Estimate]) -> Vec<f64>| {
        indices.map_or_else(Vec::new, |indices| read(indices))
    };
    FigureContributions {
        name: name.into(),
        label: label.into(),
        method: ContributionMethod::TotalOrder,
        shares: of(indices.map(|i| &i.total), values),
        errors: of(indices.map(|i| &i.total), errors),
        linear: found.explained,
        first: of(indices.map(|i| &i.first), values),
        told: String::new(),
    }
}

/// What total-order indices mean, and what they sum to.
fn of_total(run: &ContributionsRun, contributions: &FigureContributions) -> String {
    let (_, samples) = run.boards();
    let sum: f64 = contributions.shares.iter().sum();
    let together = if sum > 1.05 {
        format!(
            " Their sum is {}: what is above 100 % comes from interactions between parts.",
            rounded(sum, Unit::Percent, 3)
        )
    } else {
        String::new()
    };
    format!(
        "from {samples} samples: the share of the variance that remains when all others are known.{together} {}",
        standard_error(&contributions.errors)
    )
}

fn standard_error(errors: &[f64]) -> String {
    let most = errors.iter().copied().fold(0.0, f64::max);
    format!(
        "Standard error {} at most.",
        rounded(most, Unit::Percent, 2)
    )
}

fn values(of: &[Estimate]) -> Vec<f64> {
    of.iter().map(|estimate| estimate.value).collect()
}

fn errors(of: &[Estimate]) -> Vec<f64> {
    of.iter().map(|estimate| estimate.error).collect()
}
