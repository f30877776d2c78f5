//! The lines of a supply: what makes them, and where they may lie.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::tagged;

use super::interval::{folded, plus, times};
use super::{Converter, Supply};

/// A line: somewhere in an interval on each board, and all over the interval over all boards.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    #[serde(with = "crate::tagged")]
    pub source: Source,
    /// From where to where, Hz.
    pub range: (f64, f64),
}

/// What makes a line; converters by their place, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Source {
    /// order·f.
    Harmonic { converter: usize, order: u32 },
    /// order/divisor·f, in lowest terms; the divisor is 2 or more.
    Subharmonic {
        converter: usize,
        order: u32,
        divisor: u32,
    },
    /// order times the repetition rate of bursts.
    Burst { converter: usize, order: u32 },
    /// order times the rate of the spread spectrum's modulation.
    Modulation { converter: usize, order: u32 },
    /// |m·f1 − n·f2| with `orders` m and n.
    Beat {
        converters: (usize, usize),
        orders: (u32, u32),
    },
}

/// How it is read: see [`tagged::outside`].
#[derive(Deserialize)]
#[serde(remote = "Source", rename_all = "kebab-case")]
enum Outside {
    Harmonic {
        converter: usize,
        order: u32,
    },
    Subharmonic {
        converter: usize,
        order: u32,
        divisor: u32,
    },
    Burst {
        converter: usize,
        order: u32,
    },
    Modulation {
        converter: usize,
        order: u32,
    },
    Beat {
        converters: (usize, usize),
        orders: (u32, u32),
    },
}

impl<'de> Deserialize<'de> for Source {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Source, D::Error> {
        let tree = tagged::outside(deserializer, "kind")?;
        Outside::deserialize(&tree).map_err(D::Error::custom)
    }
}

impl Source {
    /// The product of its whole numbers. As a rule of thumb a line's amplitude falls as 1 over it: harmonics of
    /// what switches sharply fall as 1/k (common practice), and a beat is made by two of them.
    pub fn order(&self) -> u32 {
        match *self {
            Source::Harmonic { order, .. }
            | Source::Burst { order, .. }
            | Source::Modulation { order, .. } => order,
            Source::Subharmonic { order, divisor, .. } => order * divisor,
            Source::Beat { orders, .. } => orders.0 * orders.1,
        }
    }

    /// The converters that make it.
    pub fn converters(&self) -> (usize, Option<usize>) {
        match *self {
            Source::Harmonic { converter, .. }
            | Source::Subharmonic { converter, .. }
            | Source::Burst { converter, .. }
            | Source::Modulation { converter, .. } => (converter, None),
            Source::Beat { converters, .. } => (converters.0, Some(converters.1)),
        }
    }

    /// How often each converter's switching frequency goes into it: none for a line that does not move with any.
    pub(super) fn factors(&self) -> [Option<(usize, f64)>; 2] {
        match *self {
            Source::Harmonic { converter, order } => [Some((converter, f64::from(order))), None],
            Source::Subharmonic {
                converter,
                order,
                divisor,
            } => [
                Some((converter, f64::from(order) / f64::from(divisor))),
                None,
            ],
            Source::Burst { .. } | Source::Modulation { .. } => [None; 2],
            Source::Beat { converters, orders } => [
                Some((converters.0, f64::from(orders.0))),
                Some((converters.1, -f64::from(orders.1))),
            ],
        }
    }
}

/// Every line up to the orders that are asked for: converter by converter, then pair by pair.
pub fn lines(supply: &Supply) -> Vec<Line> {
    let mut lines = Vec::new();
    for (converter, known) in supply.converters.iter().enumerate() {
        let own = sources(supply, converter, known);
        lines.extend(own.into_iter().map(|source| Line {
            source,
            range: range(supply, source),
        }));
    }
    for second in 0..supply.converters.len() {
        for first in 0..second {
            for m in 1..=supply.beats {
                lines.extend((1..=supply.beats).map(|n| {
                    let source = Source::Beat {
                        converters: (first, second),
                        orders: (m, n),
                    };
                    Line {
                        source,
                        range: range(supply, source),
                    }
                }));
            }
        }
    }
    lines
}

/// What a converter makes alone.
fn sources(supply: &Supply, converter: usize, known: &Converter) -> Vec<Source> {
    let orders = 1..=supply.harmonics;
    let mut all: Vec<Source> = orders
        .clone()
        .map(|order| Source::Harmonic { converter, order })
        .collect();
    for divisor in 2..=supply.divisors {
        let lowest = orders.clone().filter(|order| are_coprime(*order, divisor));
        all.extend(lowest.map(|order| Source::Subharmonic {
            converter,
            order,
            divisor,
        }));
    }
    if known.burst.is_some() {
        let burst = |order| Source::Burst { converter, order };
        all.extend(orders.clone().map(burst));
    }
    if known.spread.is_some() {
        let modulation = |order| Source::Modulation { converter, order };
        all.extend(orders.map(modulation));
    }
    all
}

fn are_coprime(a: u32, b: u32) -> bool {
    let (mut a, mut b) = (a, b);
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a == 1
}

/// Where a line may lie, Hz.
fn range(supply: &Supply, source: Source) -> (f64, f64) {
    let own = |converter: usize| &supply.converters[converter];
    match source {
        Source::Burst { converter, order } => own(converter).burst.map_or((0.0, 0.0), |burst| {
            times((burst.from, burst.to), f64::from(order))
        }),
        Source::Modulation { converter, order } => {
            let converter = own(converter);
            let rate = converter.spread.map_or(0.0, |spread| spread.rate);
            let variations = (1.0 - converter.tolerance, 1.0 + converter.tolerance);
            times(variations, f64::from(order) * rate)
        }
        _ => {
            let parts = source.factors().into_iter().flatten();
            folded(parts.fold((0.0, 0.0), |sum, (converter, factor)| {
                plus(sum, moved(own(converter), factor))
            }))
        }
    }
}

/// From where to where a multiple of a converter's switching frequency lies, with its sidebands; below 0 where
/// the multiple is.
pub(super) fn moved(converter: &Converter, factor: f64) -> (f64, f64) {
    let side = converter.side();
    let line = times(converter.clock(), factor * converter.frequency);
    plus(line, (-side, side))
}

#[cfg(test)]
mod tests {
    use super::super::{Burst, SpreadSpectrum};
    use super::*;

    #[test]
    fn beats_of_two_that_may_coincide_begin_at_nothing() {
        let at = |frequency| Converter {
            frequency,
            ..Converter::default()
        };
        let supply = Supply {
            converters: vec![at(500e3), at(550e3)],
            ..Supply::default()
        };
        let beat = |m, n| {
            let is_it = |line: &&Line| matches!(line.source, Source::Beat { orders, .. } if orders == (m, n));
            let all = lines(&supply);
            let (from, to) = all.iter().find(is_it).expect("the beat").range;
            (from.round(), to.round())
        };
        // 450 … 550 kHz and 495 … 605 kHz.
        assert_eq!(beat(1, 1), (0.0, 155e3));
        assert_eq!(beat(2, 1), (295e3, 605e3));
        assert_eq!(beat(1, 2), (440e3, 760e3));
    }

    #[test]
    fn every_family_is_followed_to_its_order() {
        let supply = Supply {
            converters: vec![Converter {
                burst: Some(Burst::default()),
                spread: Some(SpreadSpectrum::default()),
                ..Converter::default()
            }],
            ..Supply::default()
        };
        // f/2: 1, 3, 5; f/3: 1, 2, 4, 5; f/4: 1, 3, 5.
        assert_eq!(lines(&supply).len(), 5 + 10 + 5 + 5);
    }
}
