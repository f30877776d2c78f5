//! What the engine may know of a stage.

use crate::circuit::Netlist;
use crate::parts::{OpAmp, Shelf};
use crate::quantity::Unit;
use crate::response::Transfer;

use super::{Ask, Drawing};

/// A figure that is read off a stage's curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// Name for scripts, kebab-case.
    pub name: &'static str,
    /// Name for people.
    pub label: &'static str,
    pub unit: Unit,
    /// One sentence: how it is read off.
    pub meaning: &'static str,
}

/// A board is good when the figure stands between the two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Position in [`Stage::figures`].
    pub figure: usize,
    pub lowest: Option<f64>,
    pub highest: Option<f64>,
}

impl Limit {
    /// A figure that could not be read (NaN) is outside every limit.
    pub fn holds(&self, value: f64) -> bool {
        !value.is_nan()
            && self.lowest.is_none_or(|low| value >= low)
            && self.highest.is_none_or(|high| value <= high)
    }
}

/// How a stage's parts are chosen: positions in its netlist.
#[derive(Clone, Copy, Debug)]
pub struct Grouping {
    /// Tried in every combination that the shelf has.
    pub chosen: &'static [usize],
    /// Solved for once the chosen ones stand, and searched around the solution.
    pub solved: &'static [usize],
    /// Pairs (upper, lower) that act only by the fraction lower/(upper + lower) that they pass.
    pub dividers: &'static [(usize, usize)],
}

/// Signed, smooth misses in units of their limits; groups of them count by their Euclidean norm.
#[derive(Clone, Copy, Debug)]
pub struct Terms {
    /// How many consecutive terms make each group.
    pub groups: &'static [usize],
}

impl Terms {
    /// How many terms there are.
    pub fn count(&self) -> usize {
        self.groups.iter().sum()
    }

    /// The worst miss relative to its limit: 1 is on the limit. Infinite when a term is not a number.
    pub fn miss(&self, terms: &[f64]) -> f64 {
        self.miss_of(terms.iter().copied())
    }

    /// [`Terms::miss`] of terms that are still being worked out.
    pub fn miss_of(&self, mut terms: impl Iterator<Item = f64>) -> f64 {
        let mut worst = 0.0f64;
        for &size in self.groups {
            let square: f64 = terms.by_ref().take(size).map(|t| t * t).sum();
            if square.is_nan() {
                return f64::INFINITY;
            }
            worst = worst.max(square);
        }
        worst.sqrt()
    }
}

/// A circuit of the catalogue. The engine calls it by this trait only and knows none by name.
///
/// Values are in the netlist's order, Ω and F; op amps take a place each whose value is not used.
pub trait Stage: Sync {
    /// Stable identifier for saved designs, kebab-case.
    fn id(&self) -> &'static str;
    /// Name as the trade says it.
    fn title(&self) -> &'static str;
    /// One sentence: what it does well, and what it costs.
    fn summary(&self) -> &'static str;
    /// Sign of its passband gain.
    fn sign(&self) -> i8;
    /// Books and papers that its equations come from.
    fn sources(&self) -> &'static [&'static str];

    /// The circuit.
    fn netlist(&self) -> Netlist;
    /// Where its symbols and wires stand.
    fn drawing(&self) -> Drawing;
    /// The ask that it opens with.
    fn default_ask(&self) -> Ask;

    /// How its parts are picked.
    fn grouping(&self) -> Grouping;
    /// Design equations with an ideal op amp: given the chosen parts in `values`, fills in the rest.
    fn solve(&self, ask: &Ask, values: &mut [f64]);
    /// The shape of [`Stage::terms`].
    fn term_shape(&self) -> Terms;
    /// How far a response is from the ask; `hint` are figures of a similar board.
    fn terms(&self, ask: &Ask, transfer: &Transfer, hint: Option<&[f64]>, terms: &mut [f64]);

    /// The figures that it is judged by.
    fn figures(&self) -> &'static [Figure];
    /// Reads them off a response, NaN where a figure does not exist; `hint` are figures of a similar
    /// board, which makes the search shorter.
    fn read(&self, ask: &Ask, transfer: &Transfer, hint: Option<&[f64]>, figures: &mut [f64]);
    /// What the ask wants each figure to be, where it wants something.
    fn wanted(&self, ask: &Ask) -> Vec<Option<f64>>;
    /// What makes a board good.
    fn limits(&self, ask: &Ask) -> Vec<Limit>;

    /// Plain sentences on why an ask is out of this circuit's reach and what would bring it back;
    /// empty when nothing stands in the way before the pick.
    fn reach(&self, ask: &Ask, shelf: &Shelf, op_amp: &OpAmp) -> Vec<String>;
}
