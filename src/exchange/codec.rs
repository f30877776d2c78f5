//! The binary form of what is said: fields in their order without names, so that little code reads them; numbers
//! keep every bit, also those that JSON has no word for.

use serde::Serialize;
use serde::de::DeserializeOwned;

/// Bytes that hold no such message: page and worker are not of one build.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("a message between the page and its worker cannot be read: {0}")]
pub struct Unreadable(String);

/// A message as bytes.
///
/// # Errors
/// Never for the messages of this module, whose types all can be written.
pub fn encode<T: Serialize>(message: &T) -> Result<Vec<u8>, Unreadable> {
    postcard::to_stdvec(message).map_err(|error| Unreadable(error.to_string()))
}

/// The message that these bytes hold.
///
/// # Errors
/// Where they hold none.
pub fn decode<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Unreadable> {
    postcard::from_bytes(bytes).map_err(|error| Unreadable(error.to_string()))
}
