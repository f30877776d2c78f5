//! A loop that is kept from slice to slice.

use super::OpenLoop;
use serde::{Deserialize, Serialize};

use crate::plant::{Model, Plant};
use crate::response::Transfer;

/// [`OpenLoop`] with stages and plant of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptLoop {
    pub stages: Vec<Transfer>,
    pub model: Model,
    /// As in [`OpenLoop`].
    pub sign: f64,
}

impl KeptLoop {
    /// The loop to be read.
    pub fn open(&self) -> OpenLoop<'_> {
        OpenLoop {
            stages: self.stages.iter().collect(),
            plant: Plant::Model(&self.model),
            sign: self.sign,
        }
    }
}
