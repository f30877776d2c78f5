//! The worst case of the shown stage: what goes into the search for it, and what is told of it.

use std::task::Poll;

use super::population::{drawn, factor_label, number_label, population, population_of};
use super::spread::{Boards, BoardsOf};
use super::stages::Line;
use super::task::{Asked, Before, Blocked, Seen, Task, Turn};
use crate::design::{Design, InputError};
use crate::outcome::{
    BoardPart, CornerBoard, CornersOutcome, FigureCorners, FigureOutcome, Outcome, StageOutcome,
};
use crate::spread::{
    Corners, CornersSetting, Draws, Extremes, Factor, PhaseAt, Population, SpreadRun, StageFigures,
    VariationKind,
};

/// What the search reads: boards that are drawn, and how they stray.
#[derive(PartialEq)]
pub(super) struct WorstCaseReads {
    run: Seen<SpreadRun>,
    of: BoardsOf,
}

/// The search.
#[derive(Default)]
pub(super) struct WorstCase {
    /// The boards of the run on which each figure was lowest and highest.
    worst: Vec<[Option<u32>; 2]>,
    corners: Option<Box<Corners>>,
}

impl Task for WorstCase {
    const FIELD: &'static str = "corners";
    type Reads = WorstCaseReads;
    type Finds = CornersOutcome;

    fn reads(asked: &Asked) -> Result<Option<WorstCaseReads>, Blocked> {
        let run = asked
            .found::<Boards>()?
            .filter(|_| asked.design.view.contributions);
        let of = BoardsOf::reads(asked)?;
        Ok(run.zip(of).map(|(run, of)| WorstCaseReads { run, of }))
    }

    fn begin(
        _: &WorstCaseReads,
        _: Option<Before<WorstCase>>,
    ) -> Result<WorstCase, Vec<InputError>> {
        Ok(WorstCase::default())
    }

    fn advance(
        &mut self,
        reads: &WorstCaseReads,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Turn<CornersOutcome> {
        let BoardsOf { lines, design } = &reads.of;
        let shown = reads.of.shown();
        let found = &shown.found;
        let figures = &found.outcome.figures;
        while self.worst.len() < figures.len() {
            if !go_on() {
                return Turn::More(0.0);
            }
            self.worst.push(ends(reads.run.figure(self.worst.len())));
        }
        if self.corners.is_none() {
            let stage = &design.stages[design.view.stage];
            let of_stage = population_of(design, stage, (&shown.real, &found.values));
            self.corners = Some(Box::new(Corners::new(CornersSetting {
                drawn: self.boards(design, lines, &of_stage),
                population: of_stage,
                seed: design.spread.seed,
                every: CornersSetting::EVERY,
            })));
        }
        let Some(corners) = &mut self.corners else {
            return Turn::More(0.0);
        };
        let phase = PhaseAt::new(design.view.phase_at, &found.transfers[2]);
        let mut read = StageFigures::new(&shown.real, &found.figures, phase);
        match corners.advance(&mut read, go_on) {
            Poll::Ready(()) => Turn::Found(told(shown, &found.outcome, corners)),
            Poll::Pending => Turn::More(corners.progress()),
        }
    }

    fn tell(_: &WorstCaseReads, found: &CornersOutcome, outcome: &mut Outcome) {
        outcome.corners = Some(found.clone());
    }
}

impl WorstCase {
    /// The worst boards of the run, as boards of the shown stage alone.
    fn boards(
        &self,
        design: &Design,
        lines: &[Line],
        of_stage: &Population,
    ) -> Vec<[Option<Vec<f64>>; 2]> {
        let mut path = Draws::new(population(design, &drawn(lines)), design.spread.seed);
        let alone = Draws::new(of_stage.clone(), design.spread.seed);
        let before = lines[..design.view.stage].iter();
        let first: usize = before.map(|line| line.real.program.inputs()).sum();
        let factors = path.factors();
        let place = |factor: Factor| {
            let wanted = match factor {
                Factor::Own(at) => Factor::Own(first + at),
                other => other,
            };
            factors.iter().position(|known| *known == wanted)
        };
        let mut board = |number: u32| {
            let mut all = vec![0.5; path.unit_count()];
            path.units(u64::from(number), &mut all);
            let mut units = vec![0.5; alone.unit_count()];
            for (to, factor) in alone.factors().into_iter().enumerate() {
                if let Some(from) = place(factor) {
                    units[alone.units_of(to)].copy_from_slice(&all[path.units_of(from)]);
                }
            }
            units
        };
        let worst = self.worst.iter();
        worst
            .map(|ends| ends.map(|number| number.map(&mut board)))
            .collect()
    }
}

/// Where the lowest and the highest of some values stand.
fn ends(values: &[f64]) -> [Option<u32>; 2] {
    let mut ends: [Option<(u32, f64)>; 2] = [None; 2];
    for (number, &value) in values.iter().enumerate() {
        if value.is_nan() {
            continue;
        }
        let number = number as u32;
        if ends[0].is_none_or(|(_, low)| value < low) {
            ends[0] = Some((number, value));
        }
        if ends[1].is_none_or(|(_, high)| value > high) {
            ends[1] = Some((number, value));
        }
    }
    ends.map(|end| end.map(|(number, _)| number))
}

fn told(shown: &Line, stage: &StageOutcome, corners: &Corners) -> CornersOutcome {
    let axes = corners.axes().len() as u32;
    let (boards, looked, _) = corners.counts();
    let all = 2f64.powi(axes as i32);
    let is_complete = corners.axes().len() <= CornersSetting::EVERY;
    // The guided search may come upon a corner again, so that its readings are no count of corners.
    let method = if is_complete {
        format!("all {} corners", thousands(looked))
    } else {
        format!(
            "a guided search among {} corners, {} readings at corners",
            thousands(all as u64),
            thousands(looked)
        )
    };
    let figures = stage.figures.iter().enumerate().map(|(index, figure)| {
        let extremes = &corners.extremes()[index];
        let [lowest, highest] = [0, 1].map(|side| corner_board(shown, corners, extremes, side));
        let holds = |value: f64| {
            figure.lowest.is_none_or(|low| value >= low)
                && figure.highest.is_none_or(|high| value <= high)
        };
        let is_limited = figure.lowest.is_some() || figure.highest.is_some();
        let is_good = extremes.unreadable == 0 && holds(lowest.value) && holds(highest.value);
        let turns = turns(shown, corners, index);
        FigureCorners {
            guarantee: guarantee(figure, corners, is_complete, &turns, [&lowest, &highest]),
            name: figure.name.clone(),
            label: figure.label.clone(),
            unit: figure.unit,
            holds: is_limited.then_some(is_good),
            unreadable: extremes.unreadable,
            turns,
            lowest,
            highest,
        }
    });
    CornersOutcome {
        figures: figures.collect(),
        method,
        is_complete,
        boards,
    }
}

fn corner_board(shown: &Line, corners: &Corners, extremes: &Extremes, side: usize) -> CornerBoard {
    let is_inside = extremes.is_inside(side);
    let at_corners = extremes.corners[side].as_ref();
    let taken = if is_inside {
        extremes.boards[side].as_ref()
    } else {
        at_corners
    };
    CornerBoard {
        value: taken.map_or(f64::NAN, |extreme| extreme.value),
        is_inside,
        at_corners: at_corners.map_or(f64::NAN, |extreme| extreme.value),
        parts: taken.map_or_else(Vec::new, |extreme| {
            let variations = &corners.draws().population().variations;
            let mut values = vec![0.0; variations.len()];
            corners.draws().values(&extreme.units, &mut values);
            let all =
                (0..variations.len()).filter(|&at| variations[at].kind != VariationKind::Fixed);
            all.filter_map(|at| {
                let (label, unit, of) = number_label(&[&shown.real], at)?;
                Some(BoardPart {
                    label,
                    unit,
                    value: of(values[at]),
                    marked: of(variations[at].nominal),
                })
            })
            .collect()
        }),
    }
}

/// What makes a figure turn round inside the box.
fn turns(shown: &Line, corners: &Corners, figure: usize) -> Vec<String> {
    let axes = corners.axes().iter().zip(corners.bends(figure));
    let mut names: Vec<String> = axes
        .filter(|(_, bend)| bend.turns)
        .map(|(axis, _)| factor_label(&[&shown.real], axis.factor))
        .collect();
    names.dedup();
    names
}

fn guarantee(
    figure: &FigureOutcome,
    corners: &Corners,
    is_complete: bool,
    turns: &[String],
    ends: [&CornerBoard; 2],
) -> String {
    let (_, _, lines) = corners.counts();
    if corners.axes().is_empty() {
        return "No part varies.".into();
    }
    let is_inside = ends.map(|end| end.is_inside);
    let mut told = match (turns.is_empty(), is_inside) {
        (true, [false, false]) => format!(
            "Monotonic in every part along all {lines} sampled lines: the extremes are at corners, as far as these lines show."
        ),
        (_, [false, false]) => format!(
            "Not monotonic in {}, but no board between the corners exceeds them by a ten-thousandth of the range.",
            turns.join(", ")
        ),
        (_, inside) => {
            let which = match inside {
                [true, true] => "Both ends lie",
                [true, false] => "The lowest lies",
                _ => "The highest lies",
            };
            let with = if turns.is_empty() {
                String::new()
            } else {
                format!(" It is not monotonic in {}.", turns.join(", "))
            };
            format!(
                "{which} not at a corner, beyond every corner evaluated; found by a search along the parts, so a little more may be \
                 possible.{with}"
            )
        }
    };
    if !is_complete {
        told.push_str(
            " Moving one or two parts to their other ends makes it no worse; this is no proof, for not every corner was evaluated.",
        );
    }
    if figure.value.is_nan() {
        told = "It cannot be read on the nominal board.".into();
    }
    told
}

/// A whole number in groups of three digits.
fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{ends, thousands};

    #[test]
    fn small_things() {
        assert_eq!(thousands(256), "256");
        assert_eq!(thousands(1_262_144), "1\u{202f}262\u{202f}144");
        assert_eq!(ends(&[2.0, f64::NAN, -1.0, 7.0, 7.0]), [Some(2), Some(3)]);
        assert_eq!(ends(&[f64::NAN]), [None, None]);
    }
}
