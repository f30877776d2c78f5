//! Files that the tests' generator makes of the fuzzer's bytes.
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

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entry::hold(entry::file(bytes)));
