//! The workers in the browser: one that computes, a [`crate::exchange::Session`] that takes orders from messages and
//! answers with messages; and helpers that it starts, all of the same module.

mod crew;
mod helper;
mod solver;
pub mod turn;

use js_sys::{Array, Uint8Array};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::JsCast;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

use crate::exchange::{decode, encode};

/// What a worker is called that helps another; `solver-start.js` knows it too.
const HELPER: &str = "helper";

/// Takes orders from now on.
pub fn start() {
    console_error_panic_hook::set_once();
    match scope().name() == HELPER {
        true => helper::start(),
        false => solver::start(),
    }
}

/// Tells whoever started this worker.
fn tell<T: Serialize>(message: &T) {
    let bytes = bytes(message);
    // Only fails on what cannot be sent, and bytes can.
    let _ = scope().post_message_with_transfer(&bytes, &Array::of1(&bytes.buffer()));
}

/// A message as it is sent.
fn bytes<T: Serialize>(message: &T) -> Uint8Array {
    match encode(message) {
        Ok(bytes) => Uint8Array::from(&bytes[..]),
        Err(error) => wasm_bindgen::throw_str(&error.to_string()),
    }
}

/// A message that came; the one who started this worker hears of it as of any failure where it cannot be read.
fn message<T: DeserializeOwned>(event: &MessageEvent) -> T {
    match decode(&Uint8Array::new(&event.data()).to_vec()) {
        Ok(message) => message,
        Err(error) => wasm_bindgen::throw_str(&error.to_string()),
    }
}

fn scope() -> DedicatedWorkerGlobalScope {
    js_sys::global().unchecked_into()
}
