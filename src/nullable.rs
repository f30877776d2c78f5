//! NaN as `null`, which JSON has and NaN it has not.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

pub fn serialize<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    match serializer.is_human_readable() {
        true => value.is_finite().then_some(*value).serialize(serializer),
        false => serializer.serialize_f64(*value),
    }
}

pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    match deserializer.is_human_readable() {
        true => Ok(Option::deserialize(deserializer)?.unwrap_or(f64::NAN)),
        false => f64::deserialize(deserializer),
    }
}

/// The same for three of them.
pub mod three {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<S: Serializer>(values: &[f64; 3], serializer: S) -> Result<S::Ok, S::Error> {
        match serializer.is_human_readable() {
            true => (values.map(|value| value.is_finite().then_some(value))).serialize(serializer),
            false => values.serialize(serializer),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<[f64; 3], D::Error> {
        match deserializer.is_human_readable() {
            true => {
                let values = <[Option<f64>; 3]>::deserialize(deserializer)?;
                Ok(values.map(|value| value.unwrap_or(f64::NAN)))
            }
            false => <[f64; 3]>::deserialize(deserializer),
        }
    }
}
