//! What one board takes, value by value.

use crate::numerics::put_in_order;
use crate::outcome::{Purchase, StageOutcome};
use crate::quantity::Unit;

/// The parts of all stages, equal values together: resistors first, each kind in rising values.
pub(super) fn list<'a>(stages: impl IntoIterator<Item = &'a StageOutcome>) -> Vec<Purchase> {
    let mut list: Vec<Purchase> = Vec::new();
    for (place, stage) in stages.into_iter().enumerate() {
        for part in &stage.parts {
            let place = (place, part.name.clone());
            let same = |p: &&mut Purchase| p.unit == part.unit && p.value == part.value;
            match list.iter_mut().find(same) {
                Some(known) => known.places.push(place),
                None => list.push(Purchase {
                    unit: part.unit,
                    value: part.value,
                    places: vec![place],
                }),
            }
        }
    }
    let kind = |p: &Purchase| (p.unit != Unit::Ohm, p.value);
    put_in_order(&mut list, |a, b| {
        let (a, b) = (kind(a), kind(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    list
}
