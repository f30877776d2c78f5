//! Circuits: the netlist, and its expansion into a transfer function.
//!
//! The netlist is the only description of a circuit. [`Program::expand`] turns a netlist into a
//! straight program once; [`Program::run`] gives the transfer function's coefficients for one board
//! or for a SIMD lane of boards.

mod builder;
mod equations;
mod expand;
mod netlist;
pub mod nodal;
pub mod noise;
mod program;
mod transient;

pub use equations::Equations;
pub use netlist::{Kind, Netlist, NetlistError, Node, Part};
pub use program::{Lane, Program, Scale};
pub use transient::{Left, Transient};
