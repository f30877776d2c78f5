//! From what a design says of parts to the boards that might be built.

use super::stages::Line;
use crate::circuit::Kind;
use crate::design::{Design, KindSpread, PartSpread, StageDesign};
use crate::parts::Bin;
use crate::quantity::Unit;
use crate::spread::{Factor, Population, Reach, Shared, Variation, VariationKind};
use crate::stages::Model;
use crate::wording::in_stage;

/// What parts of a board may have in common, in this order: one lot of resistors, one of capacitors, one
/// each of the op amps' gain-bandwidth and open-loop gain, then the networks.
const RESISTORS: usize = 0;
const CAPACITORS: usize = 1;
const BANDWIDTHS: usize = 2;
const GAINS: usize = 3;
const NETWORKS: usize = 4;

/// A stage of the path that is drawn: its model and the values of all its netlist's parts.
pub(super) type Drawn<'a> = (&'a Model, &'a [f64]);

/// The stages of a path that are described.
pub(super) fn drawn(lines: &[Line]) -> Vec<Drawn<'_>> {
    lines
        .iter()
        .map(|line| (&line.real, line.found.values.as_slice()))
        .collect()
}

/// All boards of the path.
pub(super) fn population(design: &Design, stages: &[Drawn]) -> Population {
    let each = stages.iter().zip(&design.stages);
    Population {
        variations: each
            .flat_map(|(&(model, values), stage)| variations(design, stage, model, values))
            .collect(),
        commons: NETWORKS + design.spread.networks.len(),
        temperature_span: design.spread.temperature_span,
    }
}

/// All boards of one stage on its own.
pub(super) fn population_of(design: &Design, stage: &StageDesign, of: Drawn) -> Population {
    Population {
        variations: variations(design, stage, of.0, of.1),
        commons: NETWORKS + design.spread.networks.len(),
        temperature_span: design.spread.temperature_span,
    }
}

/// How each number that a stage's program takes strays, in that order.
fn variations(
    design: &Design,
    stage: &StageDesign,
    model: &Model,
    values: &[f64],
) -> Vec<Variation> {
    let parts = model.netlist.parts().iter().zip(values).zip(&model.bought);
    let mut all = Vec::new();
    let mut op_amps = model.op_amps().iter();
    for ((part, &nominal), &bought) in parts {
        let spread = &design.spread;
        let (kind, lot) = match part.kind {
            Kind::Resistor { .. } => (&spread.resistors, RESISTORS),
            Kind::Capacitor { .. } => (&spread.capacitors, CAPACITORS),
            Kind::OpAmp { .. } => {
                if let Some(numbers) = op_amps.next() {
                    op_amp(&mut all, design, *numbers);
                }
                continue;
            }
        };
        all.push(match design.shelf.bin(part.kind).filter(|_| bought) {
            None => Variation::fixed(nominal),
            Some(bin) => {
                let own = stage
                    .variations
                    .get(&part.name)
                    .cloned()
                    .unwrap_or_default();
                of_part(design, nominal, bin, kind, lot, &own)
            }
        });
    }
    all
}

fn of_part(
    design: &Design,
    nominal: f64,
    bin: &Bin,
    kind: &KindSpread,
    lot: usize,
    own: &PartSpread,
) -> Variation {
    let reach = Reach {
        tolerance: own.tolerance.unwrap_or(bin.tolerance),
        tempco: own.tempco.unwrap_or(bin.tempco),
        ageing: own.ageing.unwrap_or(kind.ageing),
    };
    let network = own.network.and_then(|number| {
        let network = design.spread.networks.get(number.checked_sub(1)?)?;
        Some((NETWORKS + number - 1, network))
    });
    let (own_reach, shared) = match network {
        // Two parts that stray by half the ratio's tolerance, one up and one down, are at its edge.
        Some((common, network)) => (
            Reach {
                tolerance: network.ratio_tolerance / 2.0,
                tempco: network.ratio_tempco / 2.0,
                ageing: 0.0,
            },
            Some(Shared { common, reach }),
        ),
        None => split(reach, kind.lot, lot),
    };
    Variation {
        nominal,
        kind: VariationKind::Ratio,
        own: own_reach,
        shared,
        distribution: own.distribution(kind),
    }
}

/// A reach as what is a part's own and what its lot shares.
fn split(reach: Reach, share: f64, common: usize) -> (Reach, Option<Shared>) {
    let scaled = |by: f64| Reach {
        tolerance: reach.tolerance * by,
        tempco: reach.tempco * by,
        ageing: reach.ageing * by,
    };
    let shared = (share > 0.0).then(|| Shared {
        common,
        reach: scaled(share),
    });
    (scaled(1.0 - share), shared)
}

/// The three numbers of an op amp, as [`crate::parts::OpAmp::values`] gives them.
fn op_amp(all: &mut Vec<Variation>, design: &Design, numbers: [f64; 3]) {
    let spread = &design.spread.op_amps;
    let [gain, bandwidth, resistance] = numbers;
    let variation = |nominal, kind, tolerance, common| {
        let reach = Reach {
            tolerance,
            ..Reach::default()
        };
        let (own, shared) = split(reach, spread.lot, common);
        Variation {
            nominal,
            kind,
            own,
            shared,
            distribution: spread.distribution(),
        }
    };
    all.push(variation(
        gain,
        VariationKind::InverseDecibel,
        spread.gain_db,
        GAINS,
    ));
    all.push(variation(
        bandwidth,
        VariationKind::Inverse,
        spread.gain_bandwidth,
        BANDWIDTHS,
    ));
    all.push(Variation::fixed(resistance));
}

/// What a factor of some stages' boards is called; parts are named with their stage where there are several.
pub(super) fn factor_label(models: &[&Model], factor: Factor) -> String {
    match factor {
        Factor::Temperature => "temperature".to_owned(),
        Factor::Common(RESISTORS) => "the lot of resistors".to_owned(),
        Factor::Common(CAPACITORS) => "the lot of capacitors".to_owned(),
        Factor::Common(BANDWIDTHS) => "gain-bandwidth of all op amps".to_owned(),
        Factor::Common(GAINS) => "open-loop gain of all op amps".to_owned(),
        Factor::Common(network) => format!("network {}", network - NETWORKS + 1),
        Factor::Own(number) => match place_of(models, number) {
            Some((stage, part, input)) => {
                let part = &models[stage].netlist.parts()[part];
                let name = in_stage(models.len() > 1, stage, &part.name);
                match (part.kind, input) {
                    (Kind::OpAmp { .. }, 0) => format!("open-loop gain of {name}"),
                    (Kind::OpAmp { .. }, _) => format!("gain-bandwidth of {name}"),
                    _ => name,
                }
            }
            None => String::new(),
        },
    }
}

/// The part that a factor belongs to, where it is one part's own.
pub(super) fn factor_part(models: &[&Model], factor: Factor) -> Option<String> {
    let Factor::Own(number) = factor else {
        return None;
    };
    let (stage, part, _) = place_of(models, number)?;
    Some(models[stage].netlist.parts()[part].name.clone())
}

/// What a number of a board is called, its unit, and how it is read in that unit.
pub(super) type Labelled = (String, Unit, fn(f64) -> f64);

/// What a number of a board is called, its unit, and how the board's own number is read in that unit: an op
/// amp's are inverses.
pub(super) fn number_label(models: &[&Model], number: usize) -> Option<Labelled> {
    let (stage, part, input) = place_of(models, number)?;
    let part = &models[stage].netlist.parts()[part];
    let name = &part.name;
    Some(match (part.kind, input) {
        (Kind::OpAmp { .. }, 0) => (
            format!("open-loop gain of {name}"),
            Unit::Decibel,
            |inverse| -20.0 * inverse.log10(),
        ),
        (Kind::OpAmp { .. }, _) => (format!("gain-bandwidth of {name}"), Unit::Hertz, f64::recip),
        (kind, _) => (name.clone(), Unit::of(kind)?, |value| value),
    })
}

/// The stage, its part, and which of the part's numbers stands at this place of a board's numbers.
fn place_of(models: &[&Model], number: usize) -> Option<(usize, usize, usize)> {
    let mut left = number;
    for (stage, model) in models.iter().enumerate() {
        for (part, of) in model.netlist.parts().iter().enumerate() {
            let inputs = of.kind.inputs();
            if left < inputs {
                return Some((stage, part, left));
            }
            left -= inputs;
        }
    }
    None
}
