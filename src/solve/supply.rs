//! A switching supply's lines on the plant's modes.

use super::feedback::Loop;
use super::feedback::LoopOf;
use crate::design::InputError;
use crate::feedback::OpenLoop;
use crate::outcome::{Outcome, SupplyHit, SupplyOutcome};
use crate::plant::{Model, PlantUnits};
use crate::solve::task::{Asked, Before, Blocked, Task, Turn};
use crate::supply::{Passages, Supply, bands, free_bands, hits, lines, told};

/// All that is told of a supply's lines reads.
#[derive(PartialEq)]
pub(in crate::solve) struct SupplyReads {
    of: LoopOf,
    supply: Supply,
    /// Of the modes' frequencies from unit to unit.
    drift: f64,
    /// Whether the loop with the model is.
    is_stable: bool,
    units: PlantUnits,
}

/// A supply's lines on the plant's modes.
pub(in crate::solve) struct SupplyLines;

impl Task for SupplyLines {
    const FIELD: &'static str = "supply";
    type Reads = SupplyReads;
    type Finds = SupplyOutcome;

    fn reads(asked: &Asked) -> Result<Option<SupplyReads>, Blocked> {
        let servo = &asked.design.servo;
        let of = LoopOf::with_model(asked)?;
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

    fn begin(
        _: &SupplyReads,
        _: Option<Before<SupplyLines>>,
    ) -> Result<SupplyLines, Vec<InputError>> {
        Ok(SupplyLines)
    }

    fn advance(&mut self, reads: &SupplyReads, _: &mut dyn FnMut() -> bool) -> Turn<SupplyOutcome> {
        let both = reads.of.modelled().zip(reads.of.plant.model.as_ref());
        let Some((open, model)) = both else {
            return Turn::Failed(Vec::new());
        };
        let SupplyReads {
            supply,
            drift,
            is_stable,
            units,
            ..
        } = reads;
        Turn::Found(describe(supply, &open, model, *drift, *is_stable, units))
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
    ranked.sort_by(|a, b| b.rank_db.total_cmp(&a.rank_db));
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
