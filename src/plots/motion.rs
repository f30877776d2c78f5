//! The closed loop in time.

use super::plot::{Axis, Pen, Plot, Tick};
use super::ticks::linear_ticks;
use crate::design::{PlantUnits, with_unit};
use crate::feedback::Motion;
use crate::quantity::{Unit, rounded};

/// Longest label beside a chart's vertical axis that has room there, characters.
const ROOM: usize = 8;

/// Ticks with the unit behind each number, or the numbers alone where there is no room: the heading has it, too.
fn ticks(low: f64, high: f64, unit: &str) -> Vec<Tick> {
    let with = |unit: &str| {
        linear_ticks(low, high, 5, &[1.0, 2.0, 5.0], |v| {
            with_unit(rounded(v, Unit::One, 3), unit)
        })
    };
    let fits = |tick: &Tick| {
        let label = tick.label.as_ref();
        label.is_none_or(|label| label.chars().count() <= ROOM)
    };
    let named = with(unit);
    if named.iter().all(fits) {
        named
    } else {
        with("")
    }
}

fn over_time(time: &[f64], lines: Vec<(&[f64], Pen)>, guides: &[f64], unit: &str) -> Plot {
    let (first, last) = (
        time.first().copied().unwrap_or(0.0),
        time.last().copied().unwrap_or(1.0),
    );
    let all = lines.iter().flat_map(|(values, _)| values.iter().copied());
    let (low, high) = all.fold((0.0f64, 0.0f64), |(low, high), v| (low.min(v), high.max(v)));
    let room = ((high - low) * 0.08).max(1e-12);
    let (low, high) = (low - room, high + room);
    let across = |at: &f64| (vec![(first, *at), (last, *at)], Pen::Guide);
    let mut drawn: Vec<_> = guides.iter().map(across).collect();
    let along = |(values, pen): (&[f64], Pen)| {
        (
            time.iter()
                .copied()
                .zip(values.iter().copied())
                .collect::<Vec<_>>(),
            pen,
        )
    };
    drawn.extend(lines.into_iter().map(along));
    Plot {
        x: Axis {
            low: first,
            high: last,
            ticks: linear_ticks(first, last, 6, &[1.0, 2.0, 5.0], |v| {
                rounded(v, Unit::Second, 3)
            }),
        },
        y: Axis {
            low,
            high,
            ticks: ticks(low, high, unit),
        },
        lines: drawn,
        ..Plot::default()
    }
}

/// Where it goes, over where it is wanted.
pub fn position(motion: &Motion, _limit: Option<f64>, units: &PlantUnits) -> Plot {
    let lines = vec![
        (&motion.reference[..], Pen::Asked),
        (&motion.position[..], Pen::Real),
    ];
    over_time(&motion.time, lines, &[], &units.output)
}

/// What it asks of the drive, which may have a limit.
pub fn drive(motion: &Motion, limit: Option<f64>, units: &PlantUnits) -> Plot {
    let guides: Vec<f64> = limit
        .into_iter()
        .flat_map(|limit| [-limit, limit])
        .collect();
    let lines = vec![(&motion.drive[..], Pen::Real)];
    over_time(&motion.time, lines, &guides, &units.input)
}
