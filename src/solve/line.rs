//! One stage of the path while it is worked on.

use std::collections::BTreeMap;

use crate::circuit::{Netlist, Program};
use crate::design::{Design, InputError, StageDesign};
use crate::outcome::StageOutcome;
use crate::parts::{OpAmp, Shelf};
use crate::pick::{Choices, Search};
use crate::response::Transfer;
use crate::stages::{Model, by_id};

/// A stage with its two models and what is found for it.
pub(super) struct Line {
    /// What it was picked for.
    key: Key,
    pub real: Model,
    pub ideal: Model,
    pub choices: Option<Choices>,
    pub found: Option<Found>,
    /// This circuit driving another one, by that one's name: expanded once, not at every keystroke.
    joined: Option<(&'static str, Program)>,
}

/// The chosen pick, described.
pub(super) struct Found {
    /// Values of all the netlist's parts.
    pub values: Vec<f64>,
    /// The ask, the bought parts with an ideal op amp, and with the real one.
    pub transfers: [Transfer; 3],
    /// The real one's figures.
    pub figures: Vec<f64>,
    pub outcome: StageOutcome,
}

/// All that decides which parts are picked.
#[derive(PartialEq)]
struct Key {
    stage: StageDesign,
    shelf: Shelf,
    op_amp: OpAmp,
}

impl Line {
    /// Prepares a stage; takes over from `before` what still holds.
    ///
    /// # Errors
    /// Blames the circuit when it is not in the catalogue or cannot be analysed.
    pub fn new(
        design: &Design,
        index: usize,
        before: Option<Line>,
    ) -> Result<Line, Vec<InputError>> {
        let stage = &design.stages[index];
        let blame = |message: String| {
            vec![InputError::new(
                &format!("/stages/{index}/circuit"),
                message,
            )]
        };
        let key = Key {
            stage: StageDesign {
                choice: 0,
                strays: BTreeMap::new(),
                ..stage.clone()
            },
            shelf: design.shelf.clone(),
            op_amp: design.op_amp.clone(),
        };
        if let Some(before) = before {
            if before.key == key {
                return Ok(Line {
                    found: None,
                    ..before
                });
            }
            if before.key.stage.circuit == stage.circuit {
                let real = before.real.with_ask(&stage.ask).with_op_amp(&design.op_amp);
                let real = real.between(stage.between);
                let ideal = real.with_op_amp(&OpAmp::IDEAL);
                return Ok(Line {
                    key,
                    real,
                    ideal,
                    choices: None,
                    found: None,
                    joined: before.joined,
                });
            }
        }
        let circuit =
            by_id(&stage.circuit).ok_or_else(|| blame("There is no such circuit.".into()))?;
        let real = Model::new(circuit, &stage.ask, &design.op_amp)
            .map_err(|error| blame(format!("The circuit cannot be analysed: {error}.")))?
            .between(stage.between);
        Ok(Line {
            key,
            ideal: real.with_op_amp(&OpAmp::IDEAL),
            real,
            choices: None,
            found: None,
            joined: None,
        })
    }

    /// This circuit and the next as one.
    pub fn joined_with(&mut self, next: &Line) -> Option<&Program> {
        let id = next.real.stage.id();
        if self.joined.as_ref().is_none_or(|(known, _)| *known != id) {
            let netlist = Netlist::joined(&self.real.netlist, &next.real.netlist);
            self.joined = Program::expand(&netlist).ok().map(|program| (id, program));
        }
        self.joined.as_ref().map(|(_, program)| program)
    }

    /// Whether it was picked for this very stage of a design.
    pub fn is_for(&self, design: &Design, index: usize) -> bool {
        self.key.stage.circuit == design.stages[index].circuit
            && self.key.stage.ask == design.stages[index].ask
    }

    /// The search for its parts.
    ///
    /// # Errors
    /// Blames pins that the circuit has no parts for.
    pub fn search(&self, design: &Design, index: usize) -> Result<Search, Vec<InputError>> {
        let pins: BTreeMap<usize, f64> = design.stages[index]
            .pins
            .iter()
            .map(|(name, &value)| match self.real.netlist.position(name) {
                Some(position) if self.real.bought[position] => Ok((position, value)),
                _ => Err(vec![InputError::new(
                    &format!("/stages/{index}/pins/{name}"),
                    format!("This circuit has no part “{name}” to fix."),
                )]),
            })
            .collect::<Result<_, _>>()?;
        let prefer = design.stages[index].prefer;
        Ok(Search::new(&self.real, &design.shelf, &pins, prefer))
    }
}
