//! The worker that computes.
//!
//! It works in slices, so that an order is taken while there is work.

use std::cell::{Cell, RefCell};

use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::MessageEvent;

use super::{crew, message, scope, turn};
use crate::exchange::{HelperReport, Report, Session};

/// Longest stretch of work before orders are looked for, ms; what is begun is finished on top. A key is answered later by
/// half of it.
const SLICE: f64 = 3.0;
/// So long after something was found the page draws it, and other workers, who would take its processor, get nothing to
/// do, ms.
const DRAWING: f64 = 12.0;
/// Least time between two reports on how far the work is, ms.
const PAUSE: f64 = 100.0;

thread_local! {
    static SESSION: RefCell<Session> = RefCell::default();
    static FOUND_AT: Cell<f64> = const { Cell::new(f64::NEG_INFINITY) };
    static PROGRESS_AT: Cell<f64> = const { Cell::new(f64::NEG_INFINITY) };
}

/// What is done when there is news of helpers.
const EARS: crew::Ears = crew::Ears {
    joined,
    ready: give_out,
    reported,
    left,
};

/// Takes orders from now on.
pub fn start() {
    let called = Closure::<dyn FnMut(MessageEvent)>::new(|event: MessageEvent| heard(&event));
    scope().set_onmessage(Some(called.as_ref().unchecked_ref()));
    // Lives as long as the worker.
    called.forget();
    super::tell(&Report::Ready);
}

/// One order.
fn heard(event: &MessageEvent) {
    let order = message(event);
    SESSION.with_borrow_mut(|session| session.take(order, &mut tell));
    turn::after(slice);
}

/// One slice; arranges for the next.
fn slice() {
    let begin = now();
    let (more, wants_help) = SESSION.with_borrow_mut(|session| {
        let more = session.advance(&mut || now() < begin + SLICE, &mut tell);
        (more, session.wants_help())
    });
    if wants_help {
        crew::start(&EARS);
        // What all waits for is given out at once.
        if !more || !page_draws() {
            give_out();
        }
    }
    if more {
        return turn::after(slice);
    }
    let waits_for = SESSION.with_borrow(Session::waits_for);
    if !waits_for.is_empty() {
        crew::watch(waits_for, &EARS);
    }
}

/// Another worker is there; its number.
fn joined() -> usize {
    SESSION.with_borrow_mut(Session::join)
}

/// Gives other workers what there is to do.
fn give_out() {
    let mut tell = |number, order| crew::tell(number, &order);
    SESSION.with_borrow_mut(|session| session.give_out(&mut tell));
}

/// What another worker has to say.
fn reported(number: usize, report: HelperReport) {
    SESSION.with_borrow_mut(|session| session.hear(number, report));
    if !page_draws() {
        give_out();
    }
    turn::after(slice);
}

/// Another worker is gone.
fn left(number: usize) {
    SESSION.with_borrow_mut(|session| session.leave(number));
    turn::after(slice);
}

/// Whether the page is likely to draw what it was told.
fn page_draws() -> bool {
    now() < FOUND_AT.get() + DRAWING
}

fn tell(report: Report) {
    match report {
        Report::Found { .. } => FOUND_AT.set(now()),
        Report::Progress { .. } => {
            let now = now();
            if now < PROGRESS_AT.get() + PAUSE {
                return;
            }
            PROGRESS_AT.set(now);
        }
        _ => {}
    }
    super::tell(&report);
}

fn now() -> f64 {
    scope()
        .performance()
        .map_or_else(js_sys::Date::now, |clock| clock.now())
}
