//! Classes of tolerance that parts are sold in, and changing parts from one to the next.

use super::race::{Bed, Entrant};
use crate::design::Edit;
use crate::numerics::put_in_order;
use crate::quantity::{Unit, rounded};
use crate::wording::listed;

/// Those with a letter of their own in IEC 60062 that resistors are sold in.
const RESISTORS: [f64; 8] = [0.0005, 0.001, 0.0025, 0.005, 0.01, 0.02, 0.05, 0.1];
/// And capacitors.
const CAPACITORS: [f64; 5] = [0.01, 0.02, 0.05, 0.1, 0.2];

/// A part in another class.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// Its place in the netlist.
    pub part: usize,
    pub to: f64,
}

/// The tolerance of a part as an entrant has it; none where it is not bought.
pub fn tolerance(bed: Bed, entrant: &Entrant, part: usize) -> Option<f64> {
    let parts = bed.model.netlist.parts();
    let bin = bed.design.shelf.bin(parts[part].kind)?;
    let own = entrant.stage.variations.get(&parts[part].name);
    bed.model.bought[part].then(|| own.and_then(|own| own.tolerance).unwrap_or(bin.tolerance))
}

/// Every bought part in its next better, or next worse, class.
pub fn steps(bed: Bed, entrant: &Entrant, better: bool) -> Vec<Move> {
    let parts = bed.model.netlist.parts();
    let step = |part: usize| {
        let now = tolerance(bed, entrant, part)?;
        let classes: &[f64] = match Unit::of(parts[part].kind)? {
            Unit::Farad => &CAPACITORS,
            _ => &RESISTORS,
        };
        let next = if better {
            classes.iter().rev().find(|class| **class < now * 0.999)
        } else {
            classes.iter().find(|class| **class > now * 1.001)
        };
        Some(Move { part, to: *next? })
    };
    (0..parts.len()).filter_map(step).collect()
}

/// An entrant with some parts moved.
pub fn moved(bed: Bed, entrant: &Entrant, moves: &[Move]) -> Entrant {
    let mut changed = entrant.clone();
    for Move { part, to } in moves {
        let name = &bed.model.netlist.parts()[*part].name;
        let own = changed.stage.variations.entry(name.clone()).or_default();
        own.tolerance = Some(*to);
    }
    changed
}

/// The last move of each part, in the order of the netlist.
pub fn summed(moves: &[Move]) -> Vec<Move> {
    let mut last: Vec<Move> = Vec::new();
    for step in moves {
        match last.iter_mut().find(|known| known.part == step.part) {
            Some(known) => known.to = step.to,
            None => last.push(step.clone()),
        }
    }
    put_in_order(&mut last, |a, b| a.part.cmp(&b.part));
    last
}

pub fn edits(bed: Bed, moves: &[Move]) -> Vec<Edit> {
    let edit = |step: &Move| Edit {
        path: format!(
            "/stages/{}/strays/{}/tolerance",
            bed.design.view.stage,
            bed.model.netlist.parts()[step.part].name
        ),
        value: step.to.into(),
    };
    moves.iter().map(edit).collect()
}

/// "R2 and C1 to 0.5 %, R3 to 0.1 %".
pub fn words(bed: Bed, moves: &[Move]) -> String {
    let mut groups: Vec<(f64, Vec<&str>)> = Vec::new();
    for step in moves {
        let name = bed.model.netlist.parts()[step.part].name.as_str();
        match groups.iter_mut().find(|(to, _)| *to == step.to) {
            Some((_, names)) => names.push(name),
            None => groups.push((step.to, vec![name])),
        }
    }
    let group = |(to, names): &(f64, Vec<&str>)| {
        format!(
            "{} to {}",
            listed(names, "and"),
            rounded(*to, Unit::Percent, 3)
        )
    };
    groups.iter().map(group).collect::<Vec<_>>().join(", ")
}
