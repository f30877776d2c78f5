//! Lets messages in between two slices of work.
//!
//! A message to oneself comes back behind those that wait already. A timer would do, too, but browsers hold a timer
//! that sets the next timer back by 4 ms, which is half as long as a slice.

use std::cell::Cell;

use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue, UnwrapThrowExt};
use web_sys::MessageChannel;

thread_local! {
    static NEXT: Cell<Option<fn()>> = const { Cell::new(None) };
    /// Whether a message is on its way: a second one would never die out while work goes on.
    static IS_SENT: Cell<bool> = const { Cell::new(false) };
    static CHANNEL: MessageChannel = open();
}

/// Has `next` run when waiting messages were heard, instead of what was to run before.
pub fn after(next: fn()) {
    NEXT.set(Some(next));
    if !IS_SENT.replace(true) {
        // Only fails on what cannot be sent.
        CHANNEL.with(|channel| channel.port2().post_message(&JsValue::NULL).unwrap_throw());
    }
}

fn run() {
    IS_SENT.set(false);
    if let Some(next) = NEXT.take() {
        next();
    }
}

fn open() -> MessageChannel {
    // Every browser that runs the module has it.
    let channel = MessageChannel::new().unwrap_throw();
    let called = Closure::<dyn FnMut()>::new(run);
    channel
        .port1()
        .set_onmessage(Some(called.as_ref().unchecked_ref()));
    // Lives as long as the worker.
    called.forget();
    channel
}
