//! A switching supply's lines on the plant's modes.

use super::at_once::AtOnce;
use super::feedback::{Loop, ModelledLoop};
use crate::feedback::OpenLoop;
use crate::numerics::put_in_order;
use crate::outcome::{Outcome, SupplyHit, SupplyOutcome};
use crate::plant::{Model, PlantUnits};
use crate::solve::task::{Asked, Blocked};
use crate::supply::{Passages, Supply, bands, free_bands, hits, lines, told};

/// All that is told of a supply's lines reads.
#[derive(PartialEq)]
pub(in crate::solve) struct SupplyReads {
    of: ModelledLoop,
    supply: Supply,
    /// Of the modes' frequencies from unit to unit.
    drift: f64,
    /// Whether the loop with the model is.
    is_stable: bool,
    units: PlantUnits,
}

/// A supply's lines on the plant's modes.
#[derive(Default)]
pub(in crate::solve) struct SupplyLines;

impl AtOnce for SupplyLines {
    const FIELD: &'static str = "supply";
    type Reads = SupplyReads;
    type Finds = SupplyOutcome;

    fn reads(asked: &Asked) -> Result<Option<SupplyReads>, Blocked> {
        let servo = &asked.design.servo;
        let of = ModelledLoop::reads(asked)?;
        let told = asked.found::<Loop>()?;
        let modelled = told.as_ref().and_then(|told| told.modelled.as_ref());
        let is_stable = modelled.is_some_and(|told| told.unstable_poles == Some(0));
        Ok(of
            .zip(servo.supply.clone())
            .map(|(of, supply)| SupplyReads {
                of,
                supply,
                drift: servo.drift.frequency,
                is_stable,
                units: servo.units.clone(),
            }))
    }

    fn find(&mut self, reads: &SupplyReads) -> SupplyOutcome {
        let SupplyReads {
            of,
            supply,
            drift,
            is_stable,
            units,
        } = reads;
        describe(supply, &of.open(), &of.model, *drift, *is_stable, units)
    }

    fn tell(_: &SupplyReads, found: &SupplyOutcome, outcome: &mut Outcome) {
        outcome.supply = Some(found.clone());
    }
}

/// All that is told of a supply; `drift` is that of the modes' frequencies from unit to unit.
fn describe(
    supply: &Supply,
    open: &OpenLoop,
    model: &Model,
    drift: f64,
    is_stable: bool,
    units: &PlantUnits,
) -> SupplyOutcome {
    let (lines, bands) = (lines(supply), bands(model, drift));
    let found = hits(&lines, &bands);
    let passages = Passages::new(open, model, is_stable, &bands);
    let mut ranked: Vec<SupplyHit> = found
        .iter()
        .filter_map(|hit| {
            let passage = passages.worst(hit)?;
            let order = f64::from(hit.line.source.order());
            Some(SupplyHit {
                hit: *hit,
                passage,
                rank_db: passage.through_db - 20.0 * order.log10(),
            })
        })
        .collect();
    put_in_order(&mut ranked, |a, b| b.rank_db.total_cmp(&a.rank_db));
    let free = (0..supply.converters.len())
        .map(|converter| free_bands(supply, &lines, &bands, converter))
        .collect();
    SupplyOutcome {
        told: told(supply, &bands, &found, model.modes.len(), is_stable),
        hits: ranked,
        free,
        units: units.of_passage(),
        bands,
        lines,
    }
}
