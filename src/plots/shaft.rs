//! The shapes of a shaft's modes over its length, each in its own lane.

use super::plot::{Axis, Pen, Plot, Tick};
use super::ticks::linear_ticks;
use crate::outcome::{DrawnMode, ShaftOutcome};
use crate::quantity::{Unit, rounded};

/// The chart's heading, for a chain or for a shaft.
pub fn shapes_over(is_chain: bool) -> &'static str {
    match is_chain {
        true => "Mode shapes over the inertias' numbers",
        false => "Mode shapes over the length, m",
    }
}

/// The chart; none without modes.
pub fn mode_shapes(shaft: &ShaftOutcome) -> Option<Plot> {
    let last = shaft.modes.first()?.shape.last()?.0;
    let first = shaft.modes.first()?.shape.first()?.0;
    let count = shaft.modes.len() as f64;
    let lane = |index: usize| count - index as f64 - 0.5;
    let mut lines = Vec::new();
    for (index, mode) in shaft.modes.iter().enumerate() {
        let middle = lane(index);
        lines.push((vec![(first, middle), (last, middle)], Pen::Guide));
        let shape = mode.shape.iter().map(|(x, y)| (*x, middle + 0.42 * y));
        lines.push((shape.collect(), Pen::Real));
    }
    let tick = |(index, mode): (usize, &DrawnMode)| Tick {
        at: lane(index),
        label: Some(rounded(mode.frequency, Unit::Hertz, 3)),
    };
    Some(Plot {
        x: Axis {
            low: first,
            high: last,
            ticks: linear_ticks(first, last, 6, &[1.0, 2.0, 5.0], |v| {
                rounded(v, Unit::One, 3)
            }),
        },
        y: Axis {
            low: 0.0,
            high: count,
            ticks: shaft.modes.iter().enumerate().map(tick).collect(),
        },
        lines,
        ..Plot::default()
    })
}
