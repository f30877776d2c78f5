//! Reading what the scripts in tests/reference wrote.

use serde::de::DeserializeOwned;

/// The JSON file of this name.
pub fn read<T: DeserializeOwned>(name: &str) -> T {
    let path = format!("{}/tests/reference/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
}
