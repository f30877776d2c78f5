//! A design of a later version, as far as this one knows it.

use serde::Deserialize;
use serde_json::Value;

use super::{Design, InputError, VERSION, tree};

/// Entries that are left out at most: more of them are no design that was made for this program.
const MOST: usize = 200;

/// How serde's complaint begins where an entry is not known.
const UNKNOWN: &str = "unknown field";

/// The version of a tree, where it is later than this program's.
pub fn version(tree: &Value) -> Option<u32> {
    let version = tree.get("version").filter(|_| tree::is_later(tree))?;
    Some(version.as_f64()?.min(f64::from(u32::MAX)) as u32)
}

/// What entries with their places are.
pub type Entries = Vec<(String, Value)>;

/// The design without the entries that this version does not know; and these.
///
/// # Errors
/// All else that keeps it from being a design: a value that is not known cannot be left out without another meaning.
pub fn read(mut tree: Value) -> Result<(Design, Entries), Vec<InputError>> {
    let mut unknown = Vec::new();
    if tree.is_object() {
        tree["version"] = Value::from(VERSION);
    }
    loop {
        let why = match Design::deserialize(&tree) {
            Ok(design) => return Ok((design, unknown)),
            Err(error) => error.to_string(),
        };
        let entry = why
            .starts_with(UNKNOWN)
            .then(|| tree::take_blamed(&mut tree, &why));
        match entry.flatten() {
            Some(entry) if unknown.len() < MOST => unknown.push(entry),
            _ => return Err(tree::misfits(tree)),
        }
    }
}
