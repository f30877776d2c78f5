//! The path's netlist as text.

use super::at_once::AtOnce;
use super::stages::{Line, Stages};
use super::task::{Asked, Blocked, Seen};
use crate::export::{Block, netlist};
use crate::outcome::Outcome;

/// All that the text reads.
#[derive(PartialEq)]
pub(super) struct NetlistReads {
    lines: Seen<Vec<Line>>,
    shown: usize,
}

/// The text.
#[derive(Default)]
pub(super) struct PathNetlist;

impl AtOnce for PathNetlist {
    const FIELD: &'static str = "netlist";
    type Reads = NetlistReads;
    type Finds = Option<String>;

    fn reads(asked: &Asked) -> Result<Option<NetlistReads>, Blocked> {
        Ok(asked.found::<Stages>()?.map(|lines| NetlistReads {
            lines,
            shown: asked.design.view.stage,
        }))
    }

    fn find(&mut self, reads: &NetlistReads) -> Option<String> {
        let lines: &[Line] = &reads.lines;
        let shown = lines.get(reads.shown)?;
        let grid = &shown.found.outcome.curves.as_ref()?.frequency;
        let range = (*grid.first()?, *grid.last()?);
        let blocks: Vec<Block> = lines.iter().map(block).collect();
        Some(netlist(&blocks, range))
    }

    fn is_same(first: &Option<String>, second: &Option<String>) -> bool {
        first == second
    }

    fn tell(_: &NetlistReads, found: &Option<String>, outcome: &mut Outcome) {
        outcome.netlist.clone_from(found);
    }
}

fn block(line: &Line) -> Block<'_> {
    Block {
        title: line.real.stage.title(),
        netlist: &line.real.netlist,
        values: &line.found.values,
        bought: &line.real.bought,
        op_amps: line.real.op_amps(),
    }
}
