//! A stage made ready for many evaluations: expanded once, run once a board.

use crate::circuit::{Kind, Netlist, NetlistError, Program, Scale};
use crate::parts::OpAmp;
use crate::response::Transfer;

use super::{Ask, Stage};

/// Impedances are divided by this before the arithmetic, Ω: the middle of what is comfortable.
const IMPEDANCE: f64 = 10e3;

/// A stage with its ask and its op amp.
pub struct Model {
    pub stage: &'static dyn Stage,
    pub ask: Ask,
    pub netlist: Netlist,
    pub program: Program,
    pub scale: Scale,
    op_amp: [f64; 3],
}

impl Model {
    /// Expands the stage's netlist.
    ///
    /// # Errors
    /// When the netlist cannot be analysed, which is a mistake in the stage's file.
    pub fn new(
        stage: &'static dyn Stage,
        ask: &Ask,
        op_amp: &OpAmp,
    ) -> Result<Model, NetlistError> {
        let netlist = stage.netlist();
        let program = Program::expand(&netlist)?;
        Ok(Model {
            stage,
            ask: ask.clone(),
            program,
            scale: Scale {
                omega: std::f64::consts::TAU * ask.frequency(),
                impedance: IMPEDANCE,
            },
            op_amp: op_amp.values(),
            netlist,
        })
    }

    /// The same stage with another op amp.
    pub fn with_op_amp(&self, op_amp: &OpAmp) -> Model {
        Model {
            stage: self.stage,
            ask: self.ask.clone(),
            netlist: self.netlist.clone(),
            program: self.program.clone(),
            scale: self.scale,
            op_amp: op_amp.values(),
        }
    }

    /// Part values (one a part, Ω or F) as the numbers that the program takes.
    pub fn inputs(&self, values: &[f64], inputs: &mut Vec<f64>) {
        inputs.clear();
        for (part, &value) in self.netlist.parts().iter().zip(values) {
            match part.kind {
                Kind::Resistor { .. } | Kind::Capacitor { .. } => inputs.push(value),
                Kind::OpAmp { .. } => inputs.extend(self.op_amp),
            }
        }
    }

    /// The response with these part values.
    pub fn transfer(&self, values: &[f64]) -> Transfer {
        let mut scratch = Scratch::default();
        self.respond(values, &mut scratch);
        scratch.transfer
    }

    /// The response into scratch space, without allocating.
    pub fn respond(&self, values: &[f64], scratch: &mut Scratch) {
        self.inputs(values, &mut scratch.inputs);
        self.program.transfer_into(
            &scratch.inputs,
            self.scale,
            &mut scratch.registers,
            &mut scratch.transfer,
        );
    }
}

/// Space for [`Model::respond`].
pub struct Scratch {
    inputs: Vec<f64>,
    registers: Vec<f64>,
    pub transfer: Transfer,
}

impl Default for Scratch {
    fn default() -> Scratch {
        Scratch {
            inputs: Vec::new(),
            registers: Vec::new(),
            transfer: Transfer::zero(1.0),
        }
    }
}
