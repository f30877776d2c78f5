//! JSON into a tree. A key that stands twice is an error: one of its two values would be lost, and nobody told
//! (RFC 8259, section 4, leaves it open what such an object means).

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

/// Longest part of a key that is told, characters.
const TOLD: usize = 40;

/// The tree of a JSON text.
///
/// # Errors
/// Where the text is no JSON, or an object has a key twice; with the line and column.
pub fn read(text: &str) -> Result<Value, serde_json::Error> {
    serde_json::from_str::<Tree>(text).map(|tree| tree.0)
}

struct Tree(Value);

impl<'de> Deserialize<'de> for Tree {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Tree, D::Error> {
        reader.deserialize_any(Planter).map(Tree)
    }
}

struct Planter;

impl<'de> Visitor<'de> for Planter {
    type Value = Value;

    fn expecting(&self, into: &mut fmt::Formatter<'_>) -> fmt::Result {
        into.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(Tree(item)) = items.next_element()? {
            list.push(item);
        }
        Ok(list.into())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(key) = entries.next_key::<String>()? {
            if map.contains_key(&key) {
                let told: String = key.chars().take(TOLD).collect();
                return Err(A::Error::custom(format_args!("“{told}” stands twice")));
            }
            let Tree(value) = entries.next_value()?;
            map.insert(key, value);
        }
        Ok(map.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Trees of some depth.
    fn trees() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<u64>().prop_map(Value::from),
            (-1e300..1e300).prop_map(Value::from),
            "\\PC{0,8}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 5, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
                prop::collection::btree_map("[a-c\"\\\\]{0,2}", inner, 0..5)
                    .prop_map(|map| map.into_iter().collect::<Map<_, _>>().into()),
            ]
        })
    }

    proptest! {
        #[test]
        fn what_serde_json_reads_is_read_alike(tree in trees()) {
            let text = tree.to_string();
            prop_assert_eq!(read(&text).ok(), serde_json::from_str::<Value>(&text).ok());
        }
    }

    #[test]
    fn a_key_that_stands_twice_is_told_with_its_place() {
        for (text, said) in [
            (
                r#"{"q": 5, "q": 50}"#,
                "“q” stands twice at line 1 column 12",
            ),
            (
                "{\"a\": [{\"b\": 1,\n\"b\": 1}]}",
                "“b” stands twice at line 2 column 3",
            ),
            (r#"{"q": 1, "\u0071": 2}"#, "“q” stands twice"),
        ] {
            let error = read(text).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
        assert!(read(r#"[{"q": 5}, {"q": 50}]"#).is_ok());
        assert!(read("{").is_err());
    }
}
