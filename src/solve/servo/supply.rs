//! A switching supply's lines on the plant's modes.

use crate::outcome::{SupplyHit, SupplyOutcome};
use crate::servo::supply::{Passages, Supply, bands, free_bands, hits, lines, told};
use crate::servo::{Model, OpenLoop, PlantUnits};

/// All that is told of a supply; `drift` is that of the modes' frequencies from unit to unit.
pub(super) fn describe(
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
