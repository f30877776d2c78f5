//! The loop in state space, where it can be closed.

use std::f64::consts::TAU;

use super::OpenLoop;
use crate::plant::{Mode, Model, Plant};
use crate::response::{StateSpace, Transfer};

impl OpenLoop<'_> {
    /// L without the plant's delay, in state space; none where the plant is a sweep, which has no states,
    /// or a stage is improper.
    pub fn states(&self) -> Option<StateSpace> {
        let Plant::Model(model) = self.plant else {
            return None;
        };
        let row = self
            .stages
            .iter()
            .try_fold(StateSpace::gain(self.sign), |row, stage| {
                Some(row.then(&StateSpace::of(stage)?))
            })?;
        Some(row.then(&model.states()?))
    }
}

impl Model {
    /// The model without its delay, in state space; none where it is improper.
    pub fn states(&self) -> Option<StateSpace> {
        let rigid = self.rigid.map(|rigid| rigid.transfer());
        let shares = rigid
            .into_iter()
            .chain(self.modes.iter().map(Mode::transfer));
        let sum = shares
            .map(|share| StateSpace::of(&share))
            .try_fold(StateSpace::gain(0.0), |sum, share| Some(sum.plus(&share?)))?;
        match self.lag {
            Some(corner) => Some(sum.then(&StateSpace::of(&Transfer {
                num: vec![1.0],
                den: vec![1.0, 1.0],
                omega: TAU * corner,
            })?)),
            None => Some(sum),
        }
    }
}
