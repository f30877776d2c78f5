//! Two designs on one chart.

use super::plot::{Axis, Pen, Plot, Stripe, Tick};
use crate::numerics::put_in_order;

/// Ticks closer together than this share of an axis would write over each other.
const CLOSE: f64 = 0.03;

/// The chart of a design over the same chart of its copy: what is asked and what is found of the one, the real result
/// of the other below it. None where neither has the chart.
pub fn over(now: Option<Plot>, copy: Option<Plot>) -> Option<Plot> {
    let below = copy.map(of_copy);
    let Some(now) = now else { return below };
    let Some(below) = below else {
        return Some(without_ideal(now));
    };
    let mut plot = without_ideal(now);
    plot.x = union(&plot.x, &below.x);
    plot.y = union(&plot.y, &below.y);
    plot.bands = below.bands.into_iter().chain(plot.bands).collect();
    // The wide line of what is asked lies below both.
    let is_below = |pen: Pen| matches!(pen, Pen::Asked | Pen::Guide);
    let (mut lines, upper): (Vec<_>, Vec<_>) =
        plot.lines.into_iter().partition(|(_, pen)| is_below(*pen));
    lines.extend(below.lines);
    lines.extend(upper);
    plot.lines = lines;
    Some(plot)
}

fn without_ideal(mut plot: Plot) -> Plot {
    plot.lines.retain(|(_, pen)| *pen != Pen::Ideal);
    plot
}

/// What is shown of a copy.
fn of_copy(mut plot: Plot) -> Plot {
    plot.lines.retain(|(_, pen)| *pen == Pen::Real);
    for (_, pen) in &mut plot.lines {
        *pen = Pen::Copy;
    }
    let bands = plot.bands.into_iter();
    plot.bands = bands
        .map(|stripe| Stripe {
            pen: Pen::Copy,
            ..stripe
        })
        .collect();
    // The plant was measured once.
    plot.points.clear();
    plot.dots.clear();
    plot
}

/// An axis as long as both.
fn union(a: &Axis, b: &Axis) -> Axis {
    let (low, high) = (a.low.min(b.low), a.high.max(b.high));
    let (long, short) = match a.high - a.low >= b.high - b.low {
        true => (a, b),
        false => (b, a),
    };
    let mut ticks = long.ticks.clone();
    for tick in &short.ticks {
        let is_near = |other: &Tick| (other.at - tick.at).abs() < CLOSE * (high - low);
        if !long.ticks.iter().any(is_near) {
            ticks.push(tick.clone());
        }
    }
    put_in_order(&mut ticks, |a, b| a.at.total_cmp(&b.at));
    Axis { low, high, ticks }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot(low: f64, high: f64, y: f64) -> Plot {
        let tick = |at: f64| Tick {
            at,
            label: Some(at.to_string()),
        };
        Plot {
            x: Axis {
                low,
                high,
                ticks: vec![tick(low), tick(high)],
            },
            y: Axis {
                low: y - 1.0,
                high: y + 1.0,
                ticks: vec![tick(y)],
            },
            bands: vec![Stripe {
                points: vec![(low, y, y), (high, y, y)],
                opacity: 0.1,
                pen: Pen::Real,
            }],
            lines: vec![
                (vec![(low, y), (high, y)], Pen::Asked),
                (vec![(low, y), (high, y)], Pen::Ideal),
                (vec![(low, y), (high, y)], Pen::Real),
            ],
            ..Plot::default()
        }
    }

    #[test]
    fn both_fit_on_one_chart() {
        let both = over(Some(plot(0.0, 1.0, 0.0)), Some(plot(0.5, 3.0, 4.0))).expect("a chart");
        assert_eq!((both.x.low, both.x.high), (0.0, 3.0));
        assert_eq!((both.y.low, both.y.high), (-1.0, 5.0));
        let pens: Vec<Pen> = both.lines.iter().map(|(_, pen)| *pen).collect();
        assert_eq!(pens, [Pen::Asked, Pen::Copy, Pen::Real]);
        let pens: Vec<Pen> = both.bands.iter().map(|band| band.pen).collect();
        assert_eq!(pens, [Pen::Copy, Pen::Real]);
        let ticks: Vec<f64> = both.x.ticks.iter().map(|tick| tick.at).collect();
        assert_eq!(ticks, [0.0, 0.5, 1.0, 3.0]);
    }

    #[test]
    fn one_alone_is_shown_alone() {
        let own = over(Some(plot(0.0, 1.0, 0.0)), None).expect("a chart");
        assert_eq!(own.lines.len(), 2);
        let copy = over(None, Some(plot(0.0, 1.0, 0.0))).expect("a chart");
        assert_eq!(copy.lines, [(vec![(0.0, 0.0), (1.0, 0.0)], Pen::Copy)]);
        assert_eq!(over(None, None), None);
    }
}
