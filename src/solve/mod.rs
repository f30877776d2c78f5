//! From a design to an outcome: pure, without clock or browser.
//!
//! [`solve`] does it in one go. The page uses [`Work`], the same in slices: it asks its caller, who
//! has a clock, whether to go on; and it lets a new piece of work take over from the last one what
//! still holds.

mod better;
mod blame;
mod board;
mod buy;
mod compare;
mod corners;
mod curves;
mod found;
mod json;
mod line;
mod loading;
mod path;
mod population;
mod proposals;
mod refusal;
mod servo;
mod shaft;
mod slow_bands;
mod spread;
mod summing;
mod trade;

pub use json::{bands_json, catalogue_json, extremes_json, pick_json, solve_json};

use crate::design::{Design, InputError, check_after};
use crate::outcome::{BoardOutcome, FigureSpread, Outcome};
use crate::pick::Search;
use crate::servo::LoopRun;
use crate::spread::{BlameRun, SpreadRun};
use crate::stages::Model;

use compare::Comparison;
use corners::Cornering;
use line::Line;
use proposals::Proposing;
use servo::Bench;
use slow_bands::SlowBands;
use summing::Summing;

/// Solves a design.
///
/// # Errors
/// What the user has to change, when the design cannot be worked on or its ask is out of reach.
pub fn solve(design: &Design) -> Result<Outcome, Vec<InputError>> {
    let mut work = Work::begin(design)?;
    while work.advance(&mut || true)? != Progress::Done {}
    Ok(work.into_outcome())
}

/// Where a piece of work stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Progress {
    /// Parts are being picked; the share that is done.
    Picking(f64),
    /// Parts, figures and curves are there; share of the boards drawn.
    Spreading(f64),
    /// The spread is there; the share of the worst case, and of who is to blame, that is done.
    Blaming(f64),
    /// All of the shown stage is there; how many other circuits have been compared.
    Comparing(usize),
    /// The table is there; proposals are being worked out.
    Proposing,
    /// All is there.
    Done,
}

/// Solving, in slices.
pub struct Work {
    design: Design,
    lines: Vec<Line>,
    /// The plant, where there is one.
    bench: Option<Bench>,
    shaft: Option<shaft::Known>,
    state: State,
    outcome: Outcome,
}

enum State {
    /// Stages before this one have their choices.
    Picking(usize, Option<Box<Search>>),
    /// Stages before this one are described.
    Describing(usize),
    Described,
    /// The plant is being fitted.
    Fitting,
    Closing,
    /// The closed loop is moved.
    Moving,
    /// Advice is worked out.
    Helping,
    /// Boards come next.
    Closed,
    Spreading(Box<SpreadRun>),
    /// Loops are being drawn, board by board and plant by plant; without stages there is no spread beside them.
    Looping(Option<Box<SpreadRun>>, Box<LoopRun>),
    Summing(Box<SpreadRun>, Box<Summing>),
    /// Bands that are worked out board by board.
    Banding(Box<SpreadRun>, Vec<FigureSpread>, Option<Box<SlowBands>>),
    /// All of the spread is there and has to be told.
    Telling(Box<SpreadRun>, Vec<FigureSpread>, Option<Box<SlowBands>>),
    /// The run is kept for its worst boards.
    Cornering(Box<SpreadRun>, Box<Cornering>),
    Blaming(Box<BlameRun>),
    /// Other circuits come next.
    Blamed,
    Comparing(Box<Comparison>),
    /// What would change the yield is being worked out.
    Proposing(Box<Proposing>),
    Done,
}

impl Work {
    /// Checks a design and prepares to solve it.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn begin(design: &Design) -> Result<Work, Vec<InputError>> {
        Work::begin_after(design, None)
    }

    /// The same, taking over what still holds of the work on another design.
    ///
    /// # Errors
    /// As [`Work::begin`].
    pub fn begin_after(design: &Design, before: Option<Work>) -> Result<Work, Vec<InputError>> {
        check_after(design, before.as_ref().map(|work| &work.design))?;
        let (before, bench, known) = match before {
            Some(work) => (work.lines, work.bench, work.shaft),
            None => (Vec::new(), None, None),
        };
        let shaft = design.servo.shaft.as_ref();
        let shaft = shaft.map(|shaft| shaft::work_out(shaft, known));
        let mut before: Vec<Option<Line>> = before.into_iter().map(Some).collect();
        let lines = (0..design.stages.len())
            .map(|index| {
                let same = take_alike(&mut before, design, index);
                Line::new(design, index, same)
            })
            .collect::<Result<_, _>>()?;
        Ok(Work {
            design: design.clone(),
            lines,
            bench: Bench::new(design, bench),
            state: State::Picking(0, None),
            outcome: Outcome {
                stages: Vec::new(),
                shown: design.view.stage,
                path: None,
                shaft: shaft.as_ref().map(|known| known.outcome.clone()),
                servo: None,
                motion: None,
                help: None,
                supply: None,
                spread: None,
                proposals: None,
                corners: None,
                blame: None,
                others: Vec::new(),
                better: None,
            },
            shaft,
        })
    }

    /// Works until a milestone is reached or `go_on` says no; what cannot be cut is a milestone of its
    /// own, a few milliseconds long. Parts, figures and curves are in [`Work::outcome`] from the first
    /// [`Progress::Spreading`] on.
    ///
    /// # Errors
    /// Blames an ask for which there is no pick, or pins that have no part.
    pub fn advance(
        &mut self,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<Progress, Vec<InputError>> {
        let count = self.lines.len();
        match &mut self.state {
            State::Picking(index, search) => {
                let at = *index;
                if at == count {
                    self.state = State::Describing(0);
                } else if self.lines[at].choices.is_some() {
                    self.state = State::Picking(at + 1, None);
                } else if let Some(search) = search {
                    if search.advance(&self.lines[at].real, go_on) {
                        self.lines[at].choices = Some(search.take());
                    } else {
                        let share = (at as f64 + search.progress()) / count as f64;
                        return Ok(Progress::Picking(share));
                    }
                } else {
                    *search = Some(Box::new(self.lines[at].search(&self.design, at)?));
                }
                Ok(Progress::Picking(at as f64 / count as f64))
            }
            State::Describing(index) => {
                let at = *index;
                if at < count {
                    let found = found::describe(&self.design, at, &self.lines[at])?;
                    self.outcome.stages.push(found.outcome.clone());
                    self.lines[at].found = Some(found);
                    self.state = State::Describing(at + 1);
                    return Ok(Progress::Picking(1.0));
                }
                self.outcome.path = Some(path::describe(&self.design, &mut self.lines));
                self.state = State::Described;
                Ok(Progress::Spreading(0.0))
            }
            State::Described => {
                self.state = match self.bench {
                    Some(_) => State::Fitting,
                    None => State::Closed,
                };
                Ok(Progress::Spreading(0.0))
            }
            State::Fitting => {
                if self.bench.as_mut().is_none_or(|bench| bench.advance(go_on)) {
                    self.state = State::Closing;
                }
                Ok(Progress::Spreading(0.0))
            }
            State::Closing => {
                let bench = self.bench.as_mut();
                self.outcome.servo = bench.map(|bench| bench.describe(&self.design, &self.lines));
                if let (Some(servo), Some(shaft)) = (&mut self.outcome.servo, &self.outcome.shaft) {
                    servo.plant.shaft_modes =
                        shaft.modes.iter().map(|mode| mode.frequency).collect();
                }
                self.state = State::Moving;
                Ok(Progress::Spreading(0.0))
            }
            State::Moving => {
                let bench = self.bench.as_ref();
                self.outcome.motion =
                    bench.and_then(|bench| bench.motion(&self.design, &self.lines));
                self.state = State::Helping;
                Ok(Progress::Spreading(0.0))
            }
            State::Helping => {
                if let Some(bench) = &mut self.bench {
                    if !bench.advance_help(&self.design, &self.lines, go_on) {
                        return Ok(Progress::Spreading(0.0));
                    }
                    self.outcome.help = bench.help(&self.design);
                    let servo = self.outcome.servo.as_ref();
                    let modelled = servo.and_then(|servo| servo.modelled.as_ref());
                    let is_stable = modelled.is_some_and(|l| l.unstable_poles == Some(0));
                    self.outcome.supply = bench.supply(&self.design, &self.lines, is_stable);
                }
                self.state = State::Closed;
                Ok(Progress::Spreading(0.0))
            }
            State::Closed if self.lines.is_empty() => {
                let bench = self.bench.as_ref();
                let loops = bench.and_then(|bench| bench.run(&self.design, &self.lines));
                self.state = match loops {
                    Some(loops) => State::Looping(None, Box::new(loops)),
                    None => State::Blamed,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Closed => {
                let run = spread::prepare(&self.design, &self.lines);
                self.state = State::Spreading(Box::new(run));
                Ok(Progress::Spreading(0.0))
            }
            State::Spreading(run) => {
                let models: Vec<&Model> = self.lines.iter().map(|line| &line.real).collect();
                if !run.advance(&models, go_on) {
                    let share = f64::from(run.drawn()) / f64::from(self.design.spread.boards);
                    return Ok(Progress::Spreading(share));
                }
                let bench = self.bench.as_ref();
                let loops = bench.and_then(|bench| bench.run(&self.design, &self.lines));
                self.state = match (std::mem::replace(&mut self.state, State::Done), loops) {
                    (State::Spreading(run), Some(loops)) => {
                        State::Looping(Some(run), Box::new(loops))
                    }
                    (State::Spreading(run), None) => State::Summing(run, Box::new(Summing::new())),
                    (other, _) => other,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Looping(_, loops) => {
                if !loops.advance(&servo::models(&self.lines), go_on) {
                    let share = f64::from(loops.drawn()) / f64::from(self.design.spread.boards);
                    return Ok(Progress::Spreading(share));
                }
                if let Some(servo) = &mut self.outcome.servo {
                    servo.spread = Some(servo::summarise(&self.design, &self.lines, loops));
                }
                self.state = match std::mem::replace(&mut self.state, State::Done) {
                    State::Looping(Some(run), _) => State::Summing(run, Box::new(Summing::new())),
                    State::Looping(None, _) => State::Blamed,
                    other => other,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Summing(run, summing) => {
                let stage = &self.outcome.stages[self.design.view.stage];
                let Some(figures) = summing.advance(run, &stage.figures, go_on) else {
                    return Ok(Progress::Spreading(1.0));
                };
                let grid = &run.view().frequencies;
                let slow = SlowBands::new(&self.design, &self.lines, grid).map(Box::new);
                self.state = match std::mem::replace(&mut self.state, State::Done) {
                    State::Summing(run, _) => State::Banding(run, figures, slow),
                    other => other,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Banding(_, _, slow) => {
                let slow = slow.as_mut();
                if !slow.is_none_or(|slow| slow.advance(&self.design, &self.lines, go_on)) {
                    return Ok(Progress::Spreading(1.0));
                }
                self.state = match std::mem::replace(&mut self.state, State::Done) {
                    State::Banding(run, figures, slow) => State::Telling(run, figures, slow),
                    other => other,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Telling(run, figures, slow) => {
                let figures = std::mem::take(figures);
                let slow = slow.take().map(|slow| slow.into_told());
                self.outcome.spread = Some(spread::summarise(run, figures, slow));
                self.state = match std::mem::replace(&mut self.state, State::Done) {
                    State::Telling(run, ..) if self.design.view.blame => {
                        State::Cornering(run, Box::default())
                    }
                    _ => State::Blamed,
                };
                Ok(Progress::Blaming(0.0))
            }
            State::Cornering(run, cornering) => {
                let found = cornering.advance(&self.design, &self.lines, run, go_on);
                if found.is_none() {
                    return Ok(Progress::Blaming(0.5 * cornering.progress()));
                }
                self.outcome.corners = found;
                self.state = match blame::prepare(&self.design, &self.lines) {
                    Some(run) => State::Blaming(Box::new(run)),
                    None => State::Blamed,
                };
                Ok(Progress::Blaming(0.5))
            }
            State::Blaming(run) => {
                let found = blame::advance(run, &self.design, &self.lines, go_on);
                if found.is_none() {
                    return Ok(Progress::Blaming(0.5 + 0.5 * run.progress()));
                }
                self.outcome.blame = found;
                self.state = State::Blamed;
                Ok(Progress::Blaming(1.0))
            }
            State::Blamed if self.lines.is_empty() => {
                self.state = State::Done;
                Ok(Progress::Blaming(1.0))
            }
            State::Blamed => {
                let shown = &self.lines[self.design.view.stage].real;
                self.state = if self.design.view.compare {
                    State::Comparing(Box::new(Comparison::new(shown)))
                } else {
                    self.proposing()
                };
                Ok(Progress::Comparing(0))
            }
            State::Comparing(comparison) => {
                if let Some(row) = comparison.advance(&self.design, go_on) {
                    self.outcome.others.push(row);
                } else if comparison.is_done() {
                    self.outcome.better = better::better(&self.outcome.others);
                    self.state = self.proposing();
                }
                Ok(Progress::Comparing(self.outcome.others.len()))
            }
            State::Proposing(proposing) => {
                let line = &self.lines[self.design.view.stage];
                if let Some(found) = proposing.advance(&self.design, line, go_on) {
                    self.outcome.proposals = Some(found);
                    self.state = State::Done;
                }
                Ok(Progress::Proposing)
            }
            State::Done => Ok(Progress::Done),
        }
    }

    /// What has been found so far.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    /// What comes behind the table of other circuits.
    fn proposing(&self) -> State {
        let line = &self.lines[self.design.view.stage];
        let wanted = self
            .design
            .view
            .propose
            .then(|| Proposing::new(&self.design, line));
        match wanted.flatten() {
            Some(proposing) => State::Proposing(Box::new(proposing)),
            None => State::Done,
        }
    }

    /// How many boards are drawn, and on how many of them the shown stage holds its limits, while more are
    /// being drawn.
    pub fn so_far(&self) -> Option<(u32, u32)> {
        match &self.state {
            State::Spreading(run) => Some((run.drawn(), run.passed_by(self.design.view.stage))),
            _ => None,
        }
    }

    /// One board of the spread, built again; none while there is no spread, or no such stage.
    pub fn board(&self, number: u32) -> Option<BoardOutcome> {
        board::build(
            &self.design,
            &self.lines,
            self.outcome.spread.as_ref()?,
            number,
        )
    }

    pub fn into_outcome(self) -> Outcome {
        self.outcome
    }
}

/// Takes the line that comes nearest to a design's stage: the same one, or the one in its place.
fn take_alike(before: &mut [Option<Line>], design: &Design, index: usize) -> Option<Line> {
    let same = before
        .iter()
        .position(|line| line.as_ref().is_some_and(|line| line.is_for(design, index)));
    before.get_mut(same.unwrap_or(index)).and_then(Option::take)
}
