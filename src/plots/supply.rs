//! Supply lines over frequency: modes' bands shaded, lines as strokes from where to where they may lie.

use super::plot::{Axis, Pen, Plot, Stripe, Tick};
use super::ticks::log_ticks;
use crate::numerics::put_in_order;
use crate::outcome::{SupplyHit, SupplyOutcome};
use crate::quantity::Unit;
use crate::supply::{Line, ModeBand, Source};

/// The factor by which the axis extends past the outermost modes and converters.
const AXIS_FACTOR: f64 = 2.5;
/// Half the height of a stroke's ends, in lanes.
const END: f64 = 0.025;

/// The chart; none without modes.
pub fn supply_lines(found: &SupplyOutcome) -> Option<Plot> {
    let first = found.bands.iter().map(|band| band.range.0);
    let first = first.min_by(f64::total_cmp)?;
    let marked = |line: &&Line| matches!(line.source, Source::Harmonic { order: 1, .. });
    let own = found.lines.iter().filter(marked).map(|line| line.range.1);
    let all = own.chain(found.bands.iter().map(|band| band.range.1));
    let last = all.max_by(f64::total_cmp)?;
    let (low, high) = ((first / AXIS_FACTOR).log10(), (last * AXIS_FACTOR).log10());
    let lanes = lanes(found);
    let count = lanes.len() as f64;
    let highest = highest(found);
    let stroke = |line: &Line| {
        let lane = line.source.converters();
        let lane = lanes.iter().position(|known| *known == lane).unwrap_or(0);
        let step = depth(line.source) / highest;
        let y = count - lane as f64 - 0.12 - 0.76 * step;
        let is_hit = |hit: &SupplyHit| hit.hit.line.source == line.source;
        let pen = match found.hits.iter().any(is_hit) {
            true => Pen::Real,
            false => Pen::Guide,
        };
        (range_stroke(line.range, low, y), pen)
    };
    let stripe = |band: &ModeBand| Stripe {
        points: vec![
            (band.range.0.log10(), 0.0, count),
            (band.range.1.log10(), 0.0, count),
        ],
        opacity: 0.25,
        pen: Pen::Real,
    };
    let tick = |(lane, who): (usize, &Lane)| Tick {
        at: count - lane as f64 - 0.5,
        label: Some(match who {
            (one, None) => (one + 1).to_string(),
            (one, Some(other)) => format!("{} and {}", one + 1, other + 1),
        }),
    };
    Some(Plot {
        x: Axis {
            low,
            high,
            ticks: log_ticks(low, high, Unit::Hertz),
        },
        y: Axis {
            low: 0.0,
            high: count,
            ticks: lanes.iter().enumerate().map(tick).collect(),
        },
        bands: found.bands.iter().map(stripe).collect(),
        lines: found.lines.iter().map(stroke).collect(),
        ..Plot::default()
    })
}

/// A lane's converters: one, or a pair.
type Lane = (usize, Option<usize>);

/// Lanes from above: converters, then pairs, in the lines' own order.
fn lanes(found: &SupplyOutcome) -> Vec<Lane> {
    let mut lanes = Vec::new();
    for line in &found.lines {
        let lane = line.source.converters();
        if !lanes.contains(&lane) {
            lanes.push(lane);
        }
    }
    let key = |(one, other): &Lane| (other.is_some(), *other, *one);
    put_in_order(&mut lanes, |a, b| key(a).cmp(&key(b)));
    lanes
}

/// A stroke over a range of frequencies (Hz) with its ends; 0 Hz is drawn at `lowest`, a power of ten.
fn range_stroke((from, to): (f64, f64), lowest: f64, y: f64) -> Vec<(f64, f64)> {
    let lg = |f: f64| if f > 0.0 { f.log10() } else { lowest };
    let (from, to) = (lg(from), lg(to));
    vec![
        (from, y - END),
        (from, y + END),
        (from, y),
        (to, y),
        (to, y + END),
        (to, y - END),
    ]
}

/// How far down its lane a line is drawn, from 0.
fn depth(source: Source) -> f64 {
    f64::from(match source {
        Source::Harmonic { order, .. }
        | Source::Subharmonic { order, .. }
        | Source::Burst { order, .. }
        | Source::Modulation { order, .. } => order - 1,
        Source::Beat { orders, .. } => orders.0.max(orders.1) - 1,
    })
}

fn highest(found: &SupplyOutcome) -> f64 {
    let depths = found.lines.iter().map(|line| depth(line.source));
    depths.fold(1.0, f64::max)
}
