//! Switching frequencies that keep a converter's lines off every mode.

use super::interval::{plus, times};
use super::line::moved;
use super::{Line, ModeBand, Source, Supply};
use crate::numerics::put_in_order;

/// The bands of marked switching frequency, Hz, in which no line that moves with this converter's frequency meets
/// a mode's band on any board, all other converters as they are. In rising order within the supply's range, ends
/// excluded; none where there is no such converter.
///
/// Bursts and the modulation's rate do not move with it: they hit at every switching frequency or at none.
/// `lines` are the supply's.
///
/// A line lies at |x·[λ, μ] + [c, d]| over the marked frequency x, so that it meets a band [a, b] exactly for x
/// in [(a − d)/μ, (b − c)/λ] and in [(−b − d)/μ, (−a − c)/λ].
pub fn free_bands(
    supply: &Supply,
    lines: &[Line],
    bands: &[ModeBand],
    converter: usize,
) -> Vec<(f64, f64)> {
    if converter >= supply.converters.len() {
        return Vec::new();
    }
    let mut blocked: Vec<(f64, f64)> = lines
        .iter()
        .filter_map(|line| over_frequency(supply, line.source, converter))
        .flat_map(|(slope, rest)| {
            bands.iter().flat_map(move |band| {
                let (a, b) = band.range;
                [(a, b), (-b, -a)].map(|(a, b)| ((a - rest.1) / slope.1, (b - rest.0) / slope.0))
            })
        })
        .collect();
    put_in_order(&mut blocked, |a, b| a.0.total_cmp(&b.0));
    let (mut free, mut from) = (Vec::new(), supply.range.0);
    for (low, high) in blocked {
        let until = low.min(supply.range.1);
        if until > from {
            free.push((from, until));
        }
        from = from.max(high);
    }
    if from < supply.range.1 {
        free.push((from, supply.range.1));
    }
    free
}

/// A line over a converter's marked frequency: its slope, above 0, and the rest in Hz, both from lowest to
/// highest; none for a line that does not move with it.
fn over_frequency(
    supply: &Supply,
    source: Source,
    converter: usize,
) -> Option<((f64, f64), (f64, f64))> {
    let parts = source.factors();
    let (_, factor) = parts
        .into_iter()
        .flatten()
        .find(|(at, _)| *at == converter)?;
    let own = &supply.converters[converter];
    let side = own.side();
    let others = parts
        .into_iter()
        .flatten()
        .filter(|(at, _)| *at != converter);
    // The size of a line does not care for its sign: turned so that this converter's share is above 0.
    let rest = others.fold((-side, side), |rest, (other, of_it)| {
        plus(
            rest,
            moved(&supply.converters[other], of_it * factor.signum()),
        )
    });
    Some((times(own.clock(), factor.abs()), rest))
}
