//! What is wrong with a design, and where.

use serde::{Deserialize, Serialize};

/// Something a user has to change, at a place in the design.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[error("{message}")]
pub struct InputError {
    /// JSON pointer of the field to blame.
    pub path: String,
    /// A sentence that names the field, says what is wrong and what is accepted.
    pub message: String,
}

impl InputError {
    pub fn new(path: &str, message: impl Into<String>) -> InputError {
        InputError {
            path: path.to_owned(),
            message: message.into(),
        }
    }
}
