//! Stages, path, plant and loop as poles, zeros and gains.

use super::at_once::AtOnce;
use super::feedback::ModelledLoop;
use super::stages::{Line, Stages};
use super::task::{Asked, Blocked, Seen};
use crate::export::{in_a_row, of_plant, of_transfer};
use crate::outcome::{Outcome, TransferOutcome, ZeroPoleGain};

/// All that these numbers read.
#[derive(PartialEq)]
pub(super) struct TransferReads {
    lines: Seen<Vec<Line>>,
    of: Option<ModelledLoop>,
}

/// The numbers.
#[derive(Default)]
pub(super) struct Transfers;

impl AtOnce for Transfers {
    const FIELD: &'static str = "transfer";
    type Reads = TransferReads;
    type Finds = TransferOutcome;

    fn reads(asked: &Asked) -> Result<Option<TransferReads>, Blocked> {
        let of = ModelledLoop::reads(asked)?;
        let lines = asked.found::<Stages>()?;
        Ok(lines.map(|lines| TransferReads { lines, of }))
    }

    fn find(&mut self, reads: &TransferReads) -> TransferOutcome {
        let stages = reads.lines.iter();
        let stages: Vec<ZeroPoleGain> = stages
            .map(|line| of_transfer(&line.found.transfers[2]))
            .collect();
        let path = in_a_row(&stages);
        let plant = reads.of.as_ref().map(|of| (of_plant(&of.model), of.sign()));
        TransferOutcome {
            open_loop: plant.as_ref().map(|(plant, sign)| {
                let summing = ZeroPoleGain {
                    gain: *sign,
                    ..ZeroPoleGain::default()
                };
                in_a_row([&summing, &path, plant])
            }),
            plant: plant.map(|(plant, _)| plant),
            path,
            stages,
        }
    }

    fn is_same(first: &TransferOutcome, second: &TransferOutcome) -> bool {
        first == second
    }

    fn tell(_: &TransferReads, found: &TransferOutcome, outcome: &mut Outcome) {
        outcome.transfer = Some(found.clone());
    }
}
