//! Trimmers: which part moves which figure, how far it must turn, and what is gained.

use std::task::Poll;

use super::race::{Bed, Entrant};
use super::{SEARCH, effects};
use crate::circuit::Kind;
use crate::numerics::put_in_order;
use crate::outcome::TrimOutcome;
use crate::quantity::{Unit, rounded};
use crate::solve::population::population_of;
use crate::spread::{TrimRun, TrimWish, quantiles};
use crate::stages::Scratch;
use crate::wording::per_cent;

/// Boards that are trimmed for an answer.
const BOARDS: usize = SEARCH / 4;
/// How many trimmers are looked at.
const MOST: usize = 3;
/// A step of a part that shows what it moves.
const STEP: f64 = 0.01;

/// The most natural trimmers, one after the other.
pub struct Trimming {
    base: Entrant,
    wanted: Vec<Trimmer>,
    running: Option<TrimRun>,
    found: Vec<TrimOutcome>,
}

/// A part that moves a figure.
#[derive(Clone)]
struct Trimmer {
    part: usize,
    figure: usize,
    /// What 1 % of the part does to each limited figure, in shares of its limit.
    moves: Vec<(usize, f64)>,
    /// How much more it moves this figure than the others.
    purity: f64,
}

impl Trimming {
    pub fn new(bed: Bed, base: Entrant) -> Trimming {
        let mut wanted = natural(bed, &base);
        wanted.truncate(MOST);
        wanted.reverse();
        Trimming {
            base,
            wanted,
            running: None,
            found: Vec::new(),
        }
    }

    /// Works on; gives the trimmers, best first, when done.
    pub fn advance(&mut self, bed: Bed, go_on: &mut dyn FnMut() -> bool) -> Poll<Vec<TrimOutcome>> {
        while let Some(trimmer) = self.wanted.last() {
            let run = match &mut self.running {
                Some(run) => run,
                None => match start(bed, &self.base, trimmer) {
                    Some(run) => self.running.insert(run),
                    // A figure that nothing is wanted of cannot be brought there.
                    None => {
                        self.wanted.pop();
                        continue;
                    }
                },
            };
            if run.advance(bed.model, go_on).is_pending() {
                return Poll::Pending;
            }
            if let Some(range) = range(bed, run) {
                if run
                    .judge(bed.model, (range.low, range.high), go_on)
                    .is_pending()
                {
                    return Poll::Pending;
                }
                self.found
                    .push(told(bed, &self.base, trimmer, range, run.share()));
            }
            self.running = None;
            self.wanted.pop();
        }
        put_in_order(&mut self.found, |a, b| {
            b.yield_after.total_cmp(&a.yield_after)
        });
        Poll::Ready(std::mem::take(&mut self.found))
    }
}

/// For each figure that is wanted somewhere, the resistor that moves it most and the others least; figures in
/// the order of how purely they can be moved.
fn natural(bed: Bed, base: &Entrant) -> Vec<Trimmer> {
    let model = bed.model;
    let figures = model.yardstick.figures();
    let mut scratch = Scratch::default();
    let nominal = model.figures(&base.values, None, &mut scratch);
    // A figure's limit, as a distance: moves count in shares of it.
    let reach: Vec<Option<f64>> = figures
        .iter()
        .zip(&nominal)
        .map(|(figure, value)| {
            let middle = figure.wanted.unwrap_or(*value);
            let limits = [figure.lowest, figure.highest].into_iter().flatten();
            let reach = limits
                .map(|limit| (limit - middle).abs())
                .fold(0.0, f64::max);
            (reach > 0.0).then_some(reach)
        })
        .collect();
    let mut all: Vec<Trimmer> = Vec::new();
    for (part, of) in model.netlist.parts().iter().enumerate() {
        if !model.bought[part] || !matches!(of.kind, Kind::Resistor { .. }) {
            continue;
        }
        let mut turned = base.values.clone();
        turned[part] *= 1.0 + STEP;
        let found = model.figures(&turned, Some(&nominal), &mut scratch);
        let moves: Vec<(usize, f64)> = (0..figures.len())
            .filter_map(|at| Some((at, (found[at] - nominal[at]) / reach[at]?)))
            .filter(|(_, moved)| moved.is_finite())
            .collect();
        for &(figure, own) in &moves {
            let others = moves.iter().filter(|(at, _)| *at != figure);
            let rest = others.map(|(_, moved)| moved * moved).sum::<f64>().sqrt();
            if figures[figure].wanted.is_some() && own.abs() > 1e-3 {
                all.push(Trimmer {
                    part,
                    figure,
                    purity: own.abs() / (rest + 0.05 * own.abs()),
                    moves: moves.clone(),
                });
            }
        }
    }
    put_in_order(&mut all, |a, b| b.purity.total_cmp(&a.purity));
    // The best part for each figure.
    let mut seen = Vec::new();
    all.retain(|trimmer| {
        let is_new = !seen.contains(&trimmer.figure);
        seen.push(trimmer.figure);
        is_new
    });
    all
}

fn start(bed: Bed, base: &Entrant, trimmer: &Trimmer) -> Option<TrimRun> {
    let parts = bed.model.netlist.parts();
    let before = parts[..trimmer.part].iter();
    let wish = TrimWish {
        number: before.map(|part| part.kind.inputs()).sum(),
        figure: trimmer.figure,
        wanted: bed.model.yardstick.figures()[trimmer.figure].wanted?,
    };
    let population = population_of(bed.design, &base.stage, (bed.model, &base.values));
    let seed = bed.design.spread.seed;
    Some(TrimRun::new(
        bed.model,
        &base.values,
        population,
        seed,
        BOARDS,
        wish,
    ))
}

/// How far a trimmer must turn, as factors, and the share of boards that it then brings there.
#[derive(Clone, Copy)]
struct Range {
    low: f64,
    high: f64,
    share: f64,
}

/// The range for the asked share of boards; none where most boards cannot be brought there at all.
fn range(bed: Bed, run: &TrimRun) -> Option<Range> {
    let factors: Vec<f64> = run.trimmed().iter().map(|t| t.factor).collect();
    let reached = factors.iter().filter(|factor| factor.is_finite()).count();
    // Boards that cannot be brought there are beyond any range.
    let asked = bed.design.spread.trimmed;
    let share = asked.min(reached as f64 / factors.len().max(1) as f64);
    let tail = (1.0 - asked) / 2.0;
    let [low, high] = quantiles(&factors, [tail, 1.0 - tail]);
    (share >= 0.5).then_some(Range { low, high, share })
}

fn told(
    bed: Bed,
    base: &Entrant,
    trimmer: &Trimmer,
    range: Range,
    yield_after: f64,
) -> TrimOutcome {
    let mut turned = base.values.clone();
    turned[trimmer.part] *= 1.0 + STEP;
    let Range { low, high, share } = range;
    let figures = bed.model.yardstick.figures();
    let part = bed.model.netlist.parts()[trimmer.part].name.clone();
    let of = |figure: usize| {
        let moved = trimmer.moves.iter().find(|(at, _)| *at == figure);
        moved.map_or(0.0, |(_, moved)| *moved)
    };
    let others = trimmer.moves.iter().filter(|(at, _)| *at != trimmer.figure);
    let label = figures[trimmer.figure].label.clone();
    let sign = |factor: f64| {
        let text = rounded(factor - 1.0, Unit::Percent, 2);
        if factor > 1.0 {
            format!("+{text}")
        } else {
            text
        }
    };
    let words = format!(
        "{part} as a trimmer for “{label}”: a range from {} to {} brings {} of {BOARDS} boards to its target; their yield is then {}.",
        sign(low),
        sign(high),
        per_cent(share),
        per_cent(yield_after),
    );
    TrimOutcome {
        moves: of(trimmer.figure),
        others: others
            .map(|(at, moved)| (figures[*at].label.clone(), *moved))
            .collect(),
        effects: effects(bed.model, &base.values, &turned),
        boards: BOARDS as u32,
        figure: figures[trimmer.figure].name.to_owned(),
        part,
        label,
        share,
        low,
        high,
        yield_after,
        words,
    }
}
