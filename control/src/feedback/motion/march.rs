//! The closed loop step by step, its output fed back after the delay.
//!
//! The delay is kept as it is (the method of steps; Bellen and Zennaro, "Numerical Methods for Delay Differential
//! Equations", ch. 3). Where it is a whole number of steps, error and position share nodes, and every corner that
//! comes round again lies on one. Where it is shorter than a step, the position is read between nodes, partly in
//! the step itself, which leaves a small linear system that is the same in every step.

use nalgebra::DVector;

use super::hold::{Early, Hold, NODES, NodeMap, Nodes, PARTS, weights};
use super::system::System;

/// A response larger than this many times its stimulus has diverged.
const FARTHEST: f64 = 1e9;

/// Where in the time grid the delayed position is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Return {
    /// No delay: the system is the closed loop.
    Closed,
    /// After a whole number of steps.
    Steps(usize),
    /// After this fraction of a step, from 0 to 1.
    Within(f64),
}

/// What was found at the nodes, `PARTS` to a step and one more at the end.
#[derive(Default)]
pub(super) struct Marched {
    pub error: Vec<f64>,
    pub drive: Vec<f64>,
    pub early: Vec<Early>,
    /// Whether the time stepping was stopped because the response diverged.
    pub ran_away: bool,
}

/// Time stepping over `steps` steps; `reference` gives the reference at the node of a number, `held` the nodes of the polynomial
/// that stands for it in the step of a number. What is found at the nodes is counted from the reference itself.
pub(super) fn march(
    system: &System,
    hold: &Hold,
    back: Return,
    steps: usize,
    reference: impl Fn(usize) -> f64,
    held: impl Fn(usize) -> Nodes,
) -> Marched {
    let n = hold.order;
    let implicit = Implicit::new(hold, back);
    let mut found = Marched::default();
    let mut past: Vec<Nodes> = Vec::with_capacity(steps);
    let mut from = system.start.clone().resize_vertically(n + NODES, 0.0);
    let mut to = DVector::zeros(n + 2 * NODES);
    for step in 0..steps {
        let wanted = held(step);
        let error = match back {
            Return::Closed => wanted,
            Return::Steps(delay) => match step.checked_sub(delay) {
                Some(then) => wanted - past[then],
                None => wanted,
            },
            Return::Within(_) => implicit.error(hold, &from, past.last(), &wanted),
        };
        from.rows_mut(n, NODES).copy_from(&error);
        to.gemv(1.0, &hold.whole, &from, 0.0);
        let position: Nodes = to.fixed_rows::<NODES>(n).into_owned();
        let drive: Nodes = to.fixed_rows::<NODES>(n + NODES).into_owned();
        let error = if back == Return::Closed {
            wanted - position
        } else {
            error
        };
        let bound = FARTHEST * (1.0 + wanted.amax());
        if !(error.amax() < bound && drive.sum().is_finite() && to.amax().is_finite()) {
            found.ran_away = true;
            break;
        }
        if step == 0 {
            found.early = hold.early(&system.start, &from.fixed_rows::<NODES>(n).into_owned());
            if back == Return::Closed {
                closed_early(&mut found.early, &error);
            }
            found.error.push(error[0]);
            found.drive.push(drive[0]);
        }
        for k in 1..NODES {
            let left_out = reference(PARTS * step + k) - wanted[k];
            found.error.push(error[k] + left_out);
            found.drive.push(drive[k] + hold.direct() * left_out);
        }
        past.push(position);
        from.rows_mut(0, n).copy_from(&to.rows(0, n));
    }
    found
}

/// What was fed is the reference there; the error is read between the nodes.
fn closed_early(early: &mut [Early], error: &Nodes) {
    for moment in early {
        moment.error = weights(moment.place).dot(error);
    }
}

/// The error's nodes where part of the position that they need is of the same step.
struct Implicit {
    /// From the last step's position to this step's delayed one, and from this step's own.
    before: NodeMap,
    own: NodeMap,
    /// `(1 + own·G)⁻¹`, G from the error's nodes to the position's.
    solve: NodeMap,
}

impl Implicit {
    fn new(hold: &Hold, back: Return) -> Implicit {
        let (mut before, mut own) = (NodeMap::zeros(), NodeMap::zeros());
        if let Return::Within(delay) = back {
            for k in 0..NODES {
                let place = k as f64 / PARTS as f64 - delay;
                if place < 0.0 {
                    before.set_row(k, &weights(place + 1.0).transpose());
                } else {
                    own.set_row(k, &weights(place).transpose());
                }
            }
        }
        let n = hold.order;
        let direct: NodeMap = hold.whole.fixed_view::<NODES, NODES>(n, n).into_owned();
        let solve = (NodeMap::identity() + own * direct).try_inverse();
        Implicit {
            before,
            own,
            // Without a solution the time stepping stops at once.
            solve: solve.unwrap_or_else(|| NodeMap::repeat(f64::NAN)),
        }
    }

    fn error(
        &self,
        hold: &Hold,
        from: &DVector<f64>,
        last: Option<&Nodes>,
        wanted: &Nodes,
    ) -> Nodes {
        let n = hold.order;
        let free = hold.whole.view((n, 0), (NODES, n)) * from.rows(0, n);
        let free: Nodes = free.fixed_rows::<NODES>(0).into_owned();
        let returned = self.before * last.copied().unwrap_or_else(Nodes::zeros) + self.own * free;
        self.solve * (wanted - returned)
    }
}
