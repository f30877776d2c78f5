//! A stage as signals see it.

use crate::circuit::{Equations, Kind, Node};
use crate::parts::DataSheet;
use crate::stages::Model;

use super::Peaks;

/// A stage with its parts' values.
pub struct DrivenStage<'a> {
    pub model: &'a Model,
    /// The numbers that programs take.
    pub numbers: Vec<f64>,
    /// The op amps' data sheets, in the netlist's order.
    pub sheets: Vec<&'a DataSheet>,
}

/// The nodes of an op amp.
#[derive(Clone, Copy)]
pub(super) struct Pins {
    pub plus: Node,
    pub minus: Node,
    pub out: Node,
}

/// What was reached in a stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reached {
    /// Of each op amp, in the netlist's order.
    pub op_amps: Vec<Peaks>,
    /// Of each node's voltage, ground's first.
    pub nodes: Vec<super::Peak>,
}

impl<'a> DrivenStage<'a> {
    /// A stage with the values of all its netlist's parts (Ω and F).
    pub fn new(model: &'a Model, values: &[f64], sheets: Vec<&'a DataSheet>) -> DrivenStage<'a> {
        let mut numbers = Vec::new();
        model.inputs(values, &mut numbers);
        DrivenStage {
            model,
            numbers,
            sheets,
        }
    }

    /// Its equations; none where it has no single answer.
    pub fn equations(&self) -> Option<Equations<'_>> {
        Equations::of(&self.model.netlist, &self.numbers)
    }

    pub(super) fn pins(&self) -> Vec<Pins> {
        let parts = self.model.netlist.parts().iter();
        parts
            .filter_map(|part| match part.kind {
                Kind::OpAmp { plus, minus, out } => Some(Pins { plus, minus, out }),
                _ => None,
            })
            .collect()
    }

    /// Nothing reached yet.
    pub fn nothing(&self) -> Reached {
        Reached {
            op_amps: vec![Peaks::default(); self.model.op_amp_count() as usize],
            nodes: vec![super::Peak::default(); self.model.netlist.nodes().len()],
        }
    }
}

impl Reached {
    /// The larger of each.
    pub fn or(mut self, other: &Reached) -> Reached {
        for (own, other) in self.op_amps.iter_mut().zip(&other.op_amps) {
            *own = own.or(*other);
        }
        for (own, other) in self.nodes.iter_mut().zip(&other.nodes) {
            *own = own.or(*other);
        }
        self
    }
}
