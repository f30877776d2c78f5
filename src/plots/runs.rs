//! The stretches of a line that lie inside a plot.

use super::plot::Axis;

type Point = (f64, f64);

/// Cuts a line at the plot's edges; where it is no number, or a phase goes round, it ends and begins anew.
pub fn runs(points: &[Point], x: &Axis, y: &Axis) -> Vec<Vec<Point>> {
    // A jump of most of the axis is a phase that went round, not a curve.
    let wraps = |a: &Point, b: &Point| {
        (a.1 - b.1).abs() > 0.75 * (y.high - y.low) && y.high <= 200.0 && y.low <= -180.0
    };
    let mut runs: Vec<Vec<Point>> = Vec::new();
    for pair in points.windows(2) {
        let [a, b] = [pair[0], pair[1]];
        let Some((from, to)) = inside(a, b, x, y).filter(|_| !wraps(&a, &b)) else {
            continue;
        };
        match runs.last_mut() {
            Some(run) if run.last() == Some(&from) => run.push(to),
            _ => runs.push(vec![from, to]),
        }
    }
    runs
}

/// The part of a stroke inside the box (Liang and Barsky, ACM Transactions on Graphics 3, 1984).
fn inside(a: Point, b: Point, x: &Axis, y: &Axis) -> Option<(Point, Point)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    // What has no end has no place either.
    if !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let (mut from, mut to) = (0.0, 1.0);
    let sides = [
        (-dx, a.0 - x.low),
        (dx, x.high - a.0),
        (-dy, a.1 - y.low),
        (dy, y.high - a.1),
    ];
    for (along, room) in sides {
        if along == 0.0 && room >= 0.0 {
            continue;
        }
        let share = room / along;
        if along < 0.0 {
            from = f64::max(from, share);
        } else if along > 0.0 {
            to = f64::min(to, share);
        } else {
            // Beside the box.
            return None;
        }
    }
    let at = |share: f64| match share {
        0.0 => a,
        1.0 => b,
        _ => (a.0 + share * dx, a.1 + share * dy),
    };
    (from < to).then(|| (at(from), at(to)))
}
