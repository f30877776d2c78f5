//! What the fuzz targets do with the fuzzer's bytes; a test calls each.

use crate::designs::{self, Manner, answered};
use crate::documents;
use crate::numbers::Numbers;
use crate::texts;

/// A design made of the bytes, in any manner.
pub fn design(bytes: &[u8]) -> Result<(), String> {
    let mut numbers = Numbers::of_bytes(bytes);
    let manner = numbers.one_of(&Manner::ALL);
    answered(&designs::draw(&mut numbers, manner).to_string())
}

/// The bytes as a design's text.
pub fn design_text(bytes: &[u8]) -> Result<(), String> {
    answered(&String::from_utf8_lossy(bytes))
}

/// A design file made of the bytes.
pub fn document(bytes: &[u8]) -> Result<(), String> {
    documents::opened(&documents::draw(&mut Numbers::of_bytes(bytes)))
}

/// The bytes as a design file.
pub fn document_bytes(bytes: &[u8]) -> Result<(), String> {
    documents::opened(bytes)
}

/// A file made of the bytes.
pub fn file(bytes: &[u8]) -> Result<(), String> {
    texts::taken_in(&texts::draw(&mut Numbers::of_bytes(bytes), 30_000)).map(drop)
}

/// The bytes as a file.
pub fn file_bytes(bytes: &[u8]) -> Result<(), String> {
    texts::taken_in(bytes).map(drop)
}

/// Ends a fuzz target where something does not hold.
pub fn hold(held: Result<(), String>) {
    if let Err(wrong) = held {
        panic!("{wrong}");
    }
}
