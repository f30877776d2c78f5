//! What the engine may know of a stage.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};

use super::{Ask, Drawing};

/// Positions in a netlist of parts that are given the same value.
pub type Alike = &'static [usize];

/// How a stage's parts are picked: positions in its netlist.
#[derive(Clone, Copy, Debug, Default)]
pub struct Grouping {
    /// Tried in every combination that the shelf has (the comfortable ones, where those are too many).
    pub chosen: &'static [Alike],
    /// Set the level of impedance and nothing else: a few comfortable values are tried.
    pub free: &'static [Alike],
    /// Solved for once the chosen ones stand, and searched around the solution.
    pub solved: &'static [Alike],
    /// Pairs (upper, lower) that act only by the fraction lower/(upper + lower) that they pass.
    pub dividers: &'static [(usize, usize)],
    /// Stand for what the stage works between: known, not bought.
    pub given: &'static [(usize, Given)],
}

/// What a part stands for that is there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// The resistance of what drives the stage.
    Source,
    /// The resistance of what it drives.
    Load,
}

/// What is known of a circuit of the catalogue before anything is worked out: what it is called, what it answers,
/// which parts it has. The page knows circuits by this trait only, so that it holds none of their equations.
pub trait Catalogued: Sync {
    /// Stable identifier for saved designs, kebab-case.
    fn id(&self) -> &'static str;
    /// Name as the trade says it.
    fn title(&self) -> &'static str;
    /// The circuit.
    fn netlist(&self) -> Netlist;
    /// The ask that it opens with; asks of the same family are those that it answers.
    fn default_ask(&self) -> Ask;
    /// How its parts are picked.
    fn grouping(&self) -> Grouping;
}

/// A circuit of the catalogue. The engine calls it by this trait only and knows none by name.
///
/// Values are in the netlist's order, Ω and F; op amps take a place each whose value is not used.
pub trait Stage: Catalogued {
    /// One sentence: what it does well, and what it costs.
    fn summary(&self) -> &'static str;
    /// Sign of its passband gain: at DC, or where it passes least far from it.
    fn sign(&self) -> i8;
    /// Books and papers that its equations come from.
    fn sources(&self) -> &'static [&'static str];

    /// Where its symbols and wires stand.
    fn drawing(&self) -> Drawing;
    /// Design equations with an ideal op amp: given the chosen and free parts in `values`, fills in
    /// the rest.
    fn solve(&self, ask: &Ask, values: &mut [f64]);

    /// Plain sentences on why an ask is out of this circuit's reach and what would bring it back;
    /// empty when nothing stands in the way before the pick.
    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String>;

    /// What is worth knowing where it is used: the trade's guidance for this circuit at this ask.
    fn advice(&self, _ask: &Ask, _op_amp: &OpAmp) -> Vec<String> {
        Vec::new()
    }
}
