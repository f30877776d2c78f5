//! What a design is for, and what was done to its board since.

use serde::{Deserialize, Serialize};

/// Words about a design; nothing is worked out from them.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct About {
    /// What it is called; 120 characters at most.
    pub name: String,
    /// Who it is by or for, what it replaces, what must not be forgotten: several lines.
    pub notes: String,
    /// A day, as the user writes it.
    pub date: String,
    /// What was changed on the bench, the oldest first.
    pub log: Vec<LogEntry>,
}

/// One change on the bench.
#[cfg_attr(not(target_arch = "wasm32"), derive(schemars::JsonSchema))]
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LogEntry {
    /// The day, as the user writes it.
    pub date: String,
    /// What was changed, and what came of it.
    pub change: String,
}

impl About {
    /// Most characters of the name, the notes, a date, and of what a log entry says.
    pub const NAME: usize = 120;
    pub const NOTES: usize = 4000;
    pub const DATE: usize = 40;
    pub const CHANGE: usize = 400;
    /// Most entries of the log.
    pub const ENTRIES: usize = 200;

    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        *self == About::default()
    }
}
