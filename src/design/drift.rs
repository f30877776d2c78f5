//! How far temperature and years may move a part: something of it must be left.

use std::collections::BTreeSet;

use super::limits::MOST_DRIFT;
use super::{Design, InputError, PartSpread};
use crate::circuit::Kind;
use crate::stages::catalogued;

/// What moves a part's value, each with the entry that says so and that entry's name.
struct Share {
    /// A fraction of the value.
    by: f64,
    path: String,
    label: String,
}

/// Parts whose value temperature and ageing may move by more than [`MOST_DRIFT`] in all; the entry that moves one most is
/// named, each entry once.
pub(super) fn check(design: &Design) -> Vec<InputError> {
    let mut told = BTreeSet::new();
    let mut errors = Vec::new();
    for (index, stage) in design.stages.iter().enumerate() {
        let Some(circuit) = catalogued(&stage.circuit) else {
            continue;
        };
        for part in circuit.netlist().parts() {
            let own = stage.variations.get(&part.name);
            let own = own.cloned().unwrap_or_default();
            let shares = shares(
                design,
                part.kind,
                &format!("/stages/{index}/strays/{}", part.name),
                &part.name,
                &own,
            );
            let sum: f64 = shares.iter().map(|share| share.by).sum();
            let most = shares.into_iter().max_by(|a, b| a.by.total_cmp(&b.by));
            if let Some(most) = most
                && sum > MOST_DRIFT
                && told.insert(most.path.clone())
            {
                errors.push(InputError::new(
                    &most.path,
                    format!(
                        "{} is too large: temperature and ageing together move {} of stage {} by more than 90 %; write a smaller one.",
                        most.label,
                        part.name,
                        index + 1
                    ),
                ));
            }
        }
    }
    errors
}

/// All that moves one part. Parts of a network share their own drift, and half the ratio's comes on top.
fn shares(design: &Design, kind: Kind, at: &str, name: &str, own: &PartSpread) -> Vec<Share> {
    let spread = &design.spread;
    let (what, bin, usual) = match kind {
        Kind::Resistor { .. } => ("resistors", &design.shelf.resistors, &spread.resistors),
        Kind::Capacitor { .. } => ("capacitors", &design.shelf.capacitors, &spread.capacitors),
        Kind::OpAmp { .. } => return Vec::new(),
    };
    let span = spread.temperature_span;
    let entry = |by: Option<f64>, key: &str, label: &str, (of_all, all): (String, f64)| match by {
        Some(by) => (by, format!("{at}/{key}"), format!("{label} of {name}")),
        None => (all, of_all, format!("{label} of {what}")),
    };
    let tempco = entry(
        own.tempco,
        "tempco",
        "Tempco",
        (format!("/shelf/{what}/tempco"), bin.tempco),
    );
    let ageing = entry(
        own.ageing,
        "ageing",
        "Ageing",
        (format!("/spread/{what}/ageing"), usual.ageing),
    );
    let share = |(by, path, label)| Share { by, path, label };
    let mut all = vec![share((tempco.0 * span, tempco.1, tempco.2)), share(ageing)];
    let number = own.network.and_then(|number| number.checked_sub(1));
    if let Some((place, network)) = number.and_then(|n| Some((n, spread.networks.get(n)?))) {
        all.push(Share {
            by: network.ratio_tempco / 2.0 * span,
            path: format!("/spread/networks/{place}/ratio_tempco"),
            label: format!("Ratio tempco of network {}", place + 1),
        });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn errors(change: impl FnOnce(&mut Design)) -> Vec<String> {
        let mut design = Design::default();
        change(&mut design);
        check(&design).into_iter().map(|error| error.path).collect()
    }

    #[test]
    fn the_entry_that_moves_a_part_too_far_is_named() {
        assert!(errors(|_| ()).is_empty());
        let own = |design: &mut Design, tempco: Option<f64>, ageing, network| {
            let part = PartSpread {
                tempco,
                ageing,
                network,
                ..PartSpread::default()
            };
            design.stages[0].variations.insert("C1".to_owned(), part);
            design.spread.temperature_span = 95.0;
        };
        let found = errors(|design| own(design, Some(0.01), None, None));
        assert_eq!(found, ["/stages/0/strays/C1/tempco"]);
        // One part's tempco and another's ageing do not add up.
        let found = errors(|design| {
            own(design, Some(0.005), None, None);
            let aged = PartSpread {
                ageing: Some(0.5),
                ..PartSpread::default()
            };
            design.stages[0].variations.insert("C2".to_owned(), aged);
        });
        assert!(found.is_empty(), "{found:?}");
        let found = errors(|design| own(design, Some(0.005), Some(0.5), None));
        assert_eq!(found, ["/stages/0/strays/C1/ageing"]);
        // All resistors alike are told once.
        let found = errors(|design| {
            design.shelf.resistors.tempco = 0.01;
            design.spread.temperature_span = 95.0;
        });
        assert_eq!(found, ["/shelf/resistors/tempco"]);
        // A network's share comes on top.
        let network = |ratio_tempco| {
            move |design: &mut Design| {
                own(design, Some(0.0092), None, Some(1));
                design.spread.networks.push(super::super::Network {
                    ratio_tempco,
                    ..Default::default()
                });
                design.spread.capacitors.ageing = 0.0;
            }
        };
        assert!(errors(network(0.0)).is_empty());
        assert_eq!(errors(network(0.001)), ["/stages/0/strays/C1/tempco"]);
    }
}
