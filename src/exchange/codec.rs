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

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;
    use serde::Deserialize;

    use super::*;

    #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
    enum Kind {
        Bare,
        Tuple(i32, String),
        Named { small: u8, signed: i64 },
    }

    type Message = (
        (u64, u32, i16, bool, f64, f32),
        (Vec<Kind>, Option<String>, BTreeMap<String, u16>),
    );

    fn kind() -> impl Strategy<Value = Kind> {
        prop_oneof![
            Just(Kind::Bare),
            any::<(i32, String)>().prop_map(|(number, text)| Kind::Tuple(number, text)),
            any::<(u8, i64)>().prop_map(|(small, signed)| Kind::Named { small, signed }),
        ]
    }

    fn message() -> impl Strategy<Value = Message> {
        let numbers = any::<(u64, u32, i16, bool, f64, f32)>();
        let map = prop::collection::btree_map(any::<String>(), any::<u16>(), 0..4);
        let kinds = prop::collection::vec(kind(), 0..5);
        (numbers, (kinds, any::<Option<String>>(), map))
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(message in message()) {
            let bytes = encode(&message).unwrap();
            prop_assert_eq!(decode::<Message>(&bytes).unwrap(), message);
        }

        #[test]
        fn what_is_cut_short_is_refused(message in message(), cut in 1usize..40) {
            let bytes = encode(&message).unwrap();
            let cut = cut.min(bytes.len());
            prop_assert!(decode::<Message>(&bytes[..bytes.len() - cut]).is_err());
        }

        #[test]
        fn any_bytes_are_answered(bytes: Vec<u8>) {
            // Neither a panic nor an endless list.
            let _ = decode::<Message>(&bytes);
        }
    }
}
