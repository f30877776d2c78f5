//! Refining a model by least squares and removing modes that are not significant.

use std::task::Poll;

use super::data::Data;
use super::descent::{COARSE, Descent};
use super::judge;

/// A mode is a candidate for removal when the cost without it would rise by fewer noise variances.
const DOUBTFUL: f64 = 80.0;

/// Backward elimination: a least-squares descent, then the weak modes removed one by one.
#[derive(Clone, Debug)]
pub(super) struct Settling {
    pub descent: Descent,
    /// The model before the present removal.
    before: Option<Box<Descent>>,
    done: bool,
}

impl Settling {
    pub fn new(descent: Descent) -> Settling {
        Settling {
            descent,
            before: None,
            done: false,
        }
    }

    /// One step; ready when there is nothing left to do.
    pub fn step(&mut self, data: &Data) -> Poll<()> {
        if self.done {
            return Poll::Ready(());
        }
        if self.descent.step(data).is_pending() {
            return Poll::Pending;
        }
        if let Some(before) = self.before.take()
            && !judge::better(&self.descent, &before, data)
        {
            self.descent = *before;
            self.done = true;
            return Poll::Ready(());
        }
        let least = usize::from(self.descent.model.rigid.is_none());
        let weights = judge::weights_of_modes(&self.descent, data);
        let weakest = weights.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
        match weakest {
            Some((k, &weight)) if weight < DOUBTFUL && weights.len() > least => {
                self.before = Some(Box::new(self.descent.clone()));
                self.descent.model.modes.remove(k);
                self.descent.free.modes.remove(k);
                self.descent.resume(COARSE, data);
                Poll::Pending
            }
            _ => {
                self.done = true;
                Poll::Ready(())
            }
        }
    }
}
