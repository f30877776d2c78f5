//! The worker that computes: a [`Session`] that takes orders from messages and answers with messages.
//!
//! It works in slices, so that an order is taken while there is work.

mod turn;

use std::cell::{Cell, RefCell};

use js_sys::Uint8Array;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

use crate::exchange::{Report, Session, decode, encode};

/// Longest stretch of work before orders are looked for, ms; what is begun is finished on top.
const SLICE: f64 = 8.0;
/// Least time between two reports on how far the work is, ms.
const PAUSE: f64 = 100.0;

thread_local! {
    static SESSION: RefCell<Session> = RefCell::default();
    static PROGRESS_AT: Cell<f64> = const { Cell::new(f64::NEG_INFINITY) };
}

/// Takes orders from now on.
pub fn start() {
    console_error_panic_hook::set_once();
    let called = Closure::<dyn FnMut(MessageEvent)>::new(|event: MessageEvent| heard(&event));
    scope().set_onmessage(Some(called.as_ref().unchecked_ref()));
    // Lives as long as the worker.
    called.forget();
    tell(Report::Ready);
}

/// One order.
fn heard(event: &MessageEvent) {
    let bytes = Uint8Array::new(&event.data()).to_vec();
    match decode(&bytes) {
        Ok(order) => SESSION.with_borrow_mut(|session| session.take(order, &mut tell)),
        // The page hears of it as of any failure.
        Err(error) => wasm_bindgen::throw_str(&error.to_string()),
    }
    turn::after(slice);
}

/// One slice; arranges for the next.
fn slice() {
    let begin = now();
    let more = SESSION
        .with_borrow_mut(|session| session.advance(&mut || now() < begin + SLICE, &mut tell));
    if more {
        turn::after(slice);
    }
}

fn tell(report: Report) {
    if let Report::Progress { .. } = report {
        let now = now();
        if now < PROGRESS_AT.get() + PAUSE {
            return;
        }
        PROGRESS_AT.set(now);
    }
    match encode(&report) {
        Ok(bytes) => {
            let bytes = Uint8Array::from(&bytes[..]);
            let transfer = js_sys::Array::of1(&bytes.buffer());
            // Only fails on what cannot be sent, and bytes can.
            let _ = scope().post_message_with_transfer(&bytes, &transfer);
        }
        Err(error) => wasm_bindgen::throw_str(&error.to_string()),
    }
}

fn now() -> f64 {
    scope()
        .performance()
        .map_or_else(js_sys::Date::now, |clock| clock.now())
}

fn scope() -> DedicatedWorkerGlobalScope {
    js_sys::global().unchecked_into()
}
