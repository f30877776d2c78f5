//! From a start of the user's own to the best nearby.

use std::task::Poll;

use super::data::Data;
use super::descent::Descent;

/// Least dampings from which a descent begins anew. A sharp mode beside its peak sees nothing of it; a
/// broad one is drawn to the peak and sharpens there.
const BROAD: [f64; 3] = [0.01, 0.03, 0.1];

/// Descents, in pieces, from a model as given and from broader modes; the best counts.
#[derive(Clone, Debug)]
pub(super) struct Approach {
    waiting: Vec<Descent>,
    best: Option<Descent>,
}

impl Approach {
    pub fn new(start: &Descent, data: &Data) -> Approach {
        let broad = BROAD.iter().rev().filter_map(|&least| {
            let mut model = start.model.clone();
            for (mode, free) in model.modes.iter_mut().zip(&start.free.modes) {
                if free.frequency && free.damping {
                    mode.damping = mode.damping.max(least);
                }
            }
            let other = model.modes != start.model.modes;
            other.then(|| Descent::new(model, start.free.clone(), start.limits, data))
        });
        let mut waiting: Vec<Descent> = broad.collect();
        let mut start = start.clone();
        start.resume(super::descent::COARSE, data);
        waiting.push(start);
        Approach {
            waiting,
            best: None,
        }
    }

    /// A step of one descent; ready when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        let Some(descent) = self.waiting.last_mut() else {
            return Poll::Ready(());
        };
        if descent.step(data).is_ready()
            && let Some(ended) = self.waiting.pop()
            && self.best.as_ref().is_none_or(|best| ended.cost < best.cost)
        {
            self.best = Some(ended);
        }
        Poll::Pending
    }

    /// The best model, once.
    pub fn take_best(&mut self) -> Option<Descent> {
        self.best.take()
    }
}
