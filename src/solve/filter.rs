//! A filter asked as a whole: its order, and the stages that make it.

use super::at_once::AtOnce;
use super::task::{Asked, Blocked};
use crate::design::{FilterDesign, StageDesign};
use crate::outcome::{FilterOutcome, FilterStage, Outcome};
use crate::parts::{OpAmp, Shelf};
use crate::quantity::{Unit, rounded};
use crate::stages::{Figure, catalogued};

/// A filter, and what decides which circuits can make its sections.
#[derive(PartialEq)]
pub(super) struct FilterReads {
    filter: FilterDesign,
    shelf: Shelf,
    op_amp: OpAmp,
}

/// What a filter takes.
#[derive(Default)]
pub(super) struct Filter;

impl AtOnce for Filter {
    const FIELD: &'static str = "filter";
    type Reads = FilterReads;
    type Finds = FilterOutcome;

    fn reads(asked: &Asked) -> Result<Option<FilterReads>, Blocked> {
        let design = asked.design;
        Ok(Some(FilterReads {
            filter: design.filter.clone(),
            shelf: design.shelf.clone(),
            op_amp: design.op_amp.op_amp(),
        }))
    }

    fn find(&mut self, reads: &FilterReads) -> FilterOutcome {
        describe(reads).unwrap_or_else(|told| FilterOutcome {
            of: reads.filter.clone(),
            order: None,
            told,
            stages: Vec::new(),
        })
    }

    fn is_same(first: &FilterOutcome, second: &FilterOutcome) -> bool {
        first == second
    }

    fn tell(_: &FilterReads, found: &FilterOutcome, outcome: &mut Outcome) {
        outcome.filter = Some(found.clone());
    }
}

fn describe(reads: &FilterReads) -> Result<FilterOutcome, String> {
    let plan = reads.filter.plan()?;
    let stages = plan.stages(&reads.shelf, &reads.op_amp)?;
    Ok(FilterOutcome {
        of: reads.filter.clone(),
        order: u32::try_from(plan.designed.order).ok(),
        told: plan.told(),
        stages: stages.into_iter().map(told).collect(),
    })
}

fn told(stage: StageDesign) -> FilterStage {
    let title = catalogued(&stage.circuit).map_or("", |circuit| circuit.title());
    let yardstick = stage.ask.yardstick();
    FilterStage {
        title: title.to_owned(),
        wanted: yardstick.figures().iter().filter_map(wanted).collect(),
        circuit: stage.circuit,
        ask: stage.ask,
    }
}

fn wanted(figure: &Figure) -> Option<String> {
    let value = rounded(figure.wanted?, figure.unit, 4);
    Some(match figure.unit {
        Unit::One => format!("{} {value}", figure.label),
        _ => value,
    })
}
