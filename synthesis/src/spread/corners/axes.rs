//! The tolerance region: all boards that tolerances, drift and ageing allow, and its coordinate axes.

use crate::spread::{Draws, Factor, Reach};

/// One independent deviation, from its lower end (0) to its upper (1).
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    pub factor: Factor,
    /// The units of a board that move together.
    units: Vec<usize>,
}

impl Axis {
    /// Puts a board at this place of the axis.
    pub fn put(&self, units: &mut [f64], place: f64) {
        for &unit in &self.units {
            units[unit] = place;
        }
    }

    /// Where a board stands on the axis.
    pub fn place(&self, units: &[f64]) -> f64 {
        let sum: f64 = self.units.iter().map(|&unit| units[unit]).sum();
        sum / self.units.len() as f64
    }
}

/// The axes of a population's box. Temperature is no axis: at its end a tempco of either sign reaches
/// furthest, and every board of a milder temperature is among those.
///
/// What a part has of its own moves together, deviation, drift and ageing: its value rises with each. What
/// several parts have in common does so, too, as long as they feel the three in the same proportions;
/// otherwise each is an axis of its own.
pub fn axes(draws: &Draws) -> Vec<Axis> {
    let span = draws.population().temperature_span;
    let mut axes = Vec::new();
    for (place, factor) in draws.factors().into_iter().enumerate() {
        if factor == Factor::Temperature {
            continue;
        }
        let felt: Vec<[f64; 3]> = draws
            .felt(factor)
            .iter()
            .map(|(_, reach)| ends(reach, span))
            .collect();
        let moves = |part: &usize| felt.iter().any(|ends| ends[*part] > 0.0);
        let units = (0..3).filter(moves).map(|part| {
            let own = draws.units_of(place);
            own.start + part
        });
        if are_alike(&felt) {
            let units: Vec<usize> = units.collect();
            if !units.is_empty() {
                axes.push(Axis { factor, units });
            }
        } else {
            axes.extend(units.map(|unit| Axis {
                factor,
                units: vec![unit],
            }));
        }
    }
    axes
}

/// How far deviation, drift and ageing reach.
fn ends(reach: &Reach, span: f64) -> [f64; 3] {
    [reach.tolerance, reach.tempco * span, reach.ageing]
}

/// Whether all are the same but for a factor.
fn are_alike(felt: &[[f64; 3]]) -> bool {
    let Some(first) = felt.first() else {
        return true;
    };
    let size: f64 = first.iter().sum();
    felt.iter().all(|other| {
        let whole: f64 = other.iter().sum();
        let pairs = first.iter().zip(other);
        pairs.fold(0.0f64, |most, (a, b)| {
            most.max((a * whole - b * size).abs())
        }) <= 1e-9 * size * whole
    })
}

/// Moves a drawn board to the temperature's end without changing its values.
pub fn at_the_end(draws: &Draws, units: &mut [f64]) {
    let side = |unit: f64| 2.0 * unit - 1.0;
    let temperature = side(units[0]);
    units[0] = 1.0;
    for place in 1..draws.factor_count() {
        let drift = draws.units_of(place).start + 1;
        units[drift] = 0.5 * (1.0 + side(units[drift]) * temperature);
    }
}
