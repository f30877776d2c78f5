//! Any bytes as a design file.
#![no_main]

#[path = "../../tests/hostile/designs.rs"]
mod designs;
#[path = "../../tests/hostile/documents.rs"]
mod documents;
#[path = "../../tests/hostile/entry.rs"]
mod entry;
#[path = "../../tests/hostile/numbers.rs"]
mod numbers;
#[path = "../../tests/hostile/texts.rs"]
mod texts;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entry::hold(entry::document_bytes(bytes)));
