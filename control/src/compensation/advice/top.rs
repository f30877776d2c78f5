//! The maximum of a curve over a grid, in slices.

use std::task::Poll;

use crate::numerics::golden;

/// So many of the grid's points are looked at in a step.
const AT_ONCE: usize = 32;

/// What is known of a curve so far: its values on the grid, and the highest top that was closed in on.
#[derive(Default)]
pub(in crate::compensation) struct Topping {
    values: Vec<f64>,
    /// The grid's point that is looked at next for a top.
    next: usize,
    best: Option<(f64, f64)>,
}

impl Topping {
    /// Looks at a few more points of the grid, which must not be empty and must stay the same from step to
    /// step, or closes in on one of its tops between its neighbours. Gives the largest value and its place
    /// when that is known.
    pub fn step(&mut self, grid: &[f64], of: &impl Fn(f64) -> f64) -> Poll<(f64, f64)> {
        let known = self.values.len();
        if known < grid.len() {
            let more = grid[known..].iter().take(AT_ONCE);
            self.values.extend(more.map(|f| of(*f)));
            return Poll::Pending;
        }
        let values = &self.values;
        let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
        let worth = highest - 0.1 * (highest - lowest);
        let last = values.len() - 1;
        while self.next <= last {
            let k = self.next;
            self.next += 1;
            let (value, before, after) = (values[k], k.saturating_sub(1), (k + 1).min(last));
            if value < worth || value < values[before] || value < values[after] {
                continue;
            }
            let (a, b) = (grid[before], grid[after]);
            let inside = golden::lowest(|f| -of(f), a, b, 1e-8 * a);
            for (height, place) in [(value, grid[k]), (-inside.0, inside.1)] {
                if self.best.is_none_or(|best| height > best.0) {
                    self.best = Some((height, place));
                }
            }
            return Poll::Pending;
        }
        Poll::Ready(self.best.unwrap_or((f64::NEG_INFINITY, grid[0])))
    }
}
