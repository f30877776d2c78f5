//! Values whose kind is told by one of their own entries, in a form that has no entries: there they are JSON texts.
//!
//! In JSON itself nothing changes. For `#[serde(with = "crate::tagged")]`.

use serde::de::{DeserializeOwned, Error as _};
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};

use crate::json;

pub fn serialize<T: Serialize, S: Serializer>(value: &T, serializer: S) -> Result<S::Ok, S::Error> {
    if serializer.is_human_readable() {
        return value.serialize(serializer);
    }
    let tree = serde_json::to_value(value).map_err(S::Error::custom)?;
    serializer.serialize_str(&json::written(&tree))
}

pub fn deserialize<'de, T, D>(deserializer: D) -> Result<T, D::Error>
where
    T: DeserializeOwned,
    D: Deserializer<'de>,
{
    if deserializer.is_human_readable() {
        return T::deserialize(deserializer);
    }
    let text = String::deserialize(deserializer)?;
    // By a tree, as a design is read: so there is one way of reading JSON.
    let tree: Value = serde_json::from_str(&text).map_err(D::Error::custom)?;
    T::deserialize(&tree).map_err(D::Error::custom)
}

/// Reads a value with the entry that tells its kind taken out of it and set in front: `{"kind": "a", "b": 1}` as
/// `{"a": {"b": 1}}`, from which serde reads it without code of its own for values that it has to keep aside.
pub fn outside<'de, D: Deserializer<'de>>(
    deserializer: D,
    tag: &'static str,
) -> Result<Value, D::Error> {
    let tree = Value::deserialize(deserializer)?;
    set_in_front(tree, tag).map_err(D::Error::custom)
}

fn set_in_front(tree: Value, tag: &str) -> Result<Value, String> {
    let Value::Object(mut rest) = tree else {
        return Err(format!(
            "invalid type: {}, expected a map",
            json::written(&tree)
        ));
    };
    match rest.remove(tag) {
        Some(Value::String(kind)) => {
            let mut front = Map::new();
            front.insert(kind, Value::Object(rest));
            Ok(Value::Object(front))
        }
        Some(other) => Err(format!(
            "invalid type: {}, expected a string",
            json::written(&other)
        )),
        None => Err(format!("missing field `{tag}`")),
    }
}
