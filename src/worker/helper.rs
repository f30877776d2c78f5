//! A worker that draws boards for another.

use std::cell::RefCell;

use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::MessageEvent;

use super::{message, scope, tell};
use crate::exchange::{HelperReport, HelperSession};

thread_local! {
    static SESSION: RefCell<HelperSession> = RefCell::default();
}

/// Takes orders from now on.
pub fn start() {
    let called = Closure::<dyn FnMut(MessageEvent)>::new(|event: MessageEvent| heard(&event));
    scope().set_onmessage(Some(called.as_ref().unchecked_ref()));
    // Lives as long as the worker.
    called.forget();
    tell(&HelperReport::Ready);
}

fn heard(event: &MessageEvent) {
    let order = message(event);
    if let Some(report) = SESSION.with_borrow_mut(|session| session.take(order)) {
        tell(&report);
    }
}
