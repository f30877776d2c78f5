//! From a design to an outcome: pure, without clock or browser.
//!
//! [`solve`] does it in one go. The page uses [`Work`], the same in slices: it asks its caller, who
//! has a clock, whether to go on.

mod curves;
mod found;
mod json;
mod spread;
mod trade;

pub use json::{extremes_json, pick_json, solve_json};

use crate::design::{Design, InputError, check};
use crate::outcome::{FigureSpread, Outcome};
use crate::parts::OpAmp;
use crate::pick::{Choices, Search};
use crate::spread::SpreadRun;
use crate::stages::{Model, by_id};
use std::collections::BTreeMap;

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
    /// All is there.
    Done,
}

/// Solving, in slices.
pub struct Work {
    design: Design,
    real: Model,
    ideal: Model,
    state: State,
    outcome: Outcome,
}

enum State {
    Picking(Box<Search>),
    Picked(Choices),
    Described,
    Spreading(Box<SpreadRun>),
    Summing(Box<SpreadRun>, Vec<FigureSpread>),
    Done,
}

impl Work {
    /// Checks a design and prepares to solve it.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn begin(design: &Design) -> Result<Work, Vec<InputError>> {
        check(design)?;
        let stage_design = &design.stages[0];
        let blame = |message: String| vec![InputError::new("/stages/0/circuit", message)];
        let stage = by_id(&stage_design.circuit)
            .ok_or_else(|| blame("There is no such circuit.".into()))?;
        let real = Model::new(stage, &stage_design.ask, &design.op_amp)
            .map_err(|error| blame(format!("The circuit cannot be analysed: {error}.")))?;
        let ideal = real.with_op_amp(&OpAmp::IDEAL);
        let search = Search::new(&real, &design.shelf, &pins(design, &real)?);
        Ok(Work {
            design: design.clone(),
            real,
            ideal,
            state: State::Picking(Box::new(search)),
            outcome: Outcome {
                stages: Vec::new(),
                spread: None,
            },
        })
    }

    /// Works until a milestone is reached or `go_on` says no; what cannot be cut is a milestone of its
    /// own, a few milliseconds long. Parts, figures and curves are in [`Work::outcome`] from the first
    /// [`Progress::Spreading`] on.
    ///
    /// # Errors
    /// When no set of parts can be found.
    pub fn advance(
        &mut self,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<Progress, Vec<InputError>> {
        match &mut self.state {
            State::Picking(search) => {
                if !search.advance(&self.real, go_on) {
                    return Ok(Progress::Picking(search.progress()));
                }
                self.state = State::Picked(search.take());
                Ok(Progress::Picking(1.0))
            }
            State::Picked(choices) => {
                let found = found::describe(&self.design, &self.real, &self.ideal, choices)?;
                self.outcome.stages = vec![found];
                self.state = State::Described;
                Ok(Progress::Spreading(0.0))
            }
            State::Described => {
                let run = spread::prepare(&self.design, &self.real, &self.outcome.stages[0]);
                self.state = State::Spreading(Box::new(run));
                Ok(Progress::Spreading(0.0))
            }
            State::Spreading(run) => {
                if !run.advance(&self.real, go_on) {
                    let share = f64::from(run.drawn()) / f64::from(self.design.spread.boards);
                    return Ok(Progress::Spreading(share));
                }
                self.state = match std::mem::replace(&mut self.state, State::Done) {
                    State::Spreading(run) => State::Summing(run, Vec::new()),
                    other => other,
                };
                Ok(Progress::Spreading(1.0))
            }
            State::Summing(run, figures) => {
                let limits = self.real.stage.limits(&self.real.ask);
                let stage = &self.outcome.stages[0];
                if figures.len() < stage.figures.len() {
                    figures.push(spread::figure(run, stage, &limits, figures.len()));
                    return Ok(Progress::Spreading(1.0));
                }
                self.outcome.spread = Some(spread::summarise(run, std::mem::take(figures)));
                self.state = State::Done;
                Ok(Progress::Done)
            }
            State::Done => Ok(Progress::Done),
        }
    }

    /// What has been found so far.
    pub fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    pub fn into_outcome(self) -> Outcome {
        self.outcome
    }
}

/// The design's pins by position in the netlist.
fn pins(design: &Design, model: &Model) -> Result<BTreeMap<usize, f64>, Vec<InputError>> {
    design.stages[0]
        .pins
        .iter()
        .map(|(name, &value)| match model.netlist.position(name) {
            Some(position) => Ok((position, value)),
            None => Err(vec![InputError::new(
                &format!("/stages/0/pins/{name}"),
                format!("This circuit has no part “{name}” to pin."),
            )]),
        })
        .collect()
}
