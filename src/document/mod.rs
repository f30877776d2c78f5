//! A design as somebody's document: a file that is opened and saved, and the way back over what was changed.

mod file;
mod history;
mod record;
#[cfg(not(target_arch = "wasm32"))]
mod schema;

pub use file::{Kept, Opened, file_name, open, saved};
pub use history::{History, change};
pub use record::{Record, label};
#[cfg(not(target_arch = "wasm32"))]
pub use schema::schema;
