//! Answers scripts, in a worker of their own: the design on the page does not wait for them.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

use js_sys::{Function, Promise};
use wasm_bindgen::JsValue;

use super::solver::{Heard, Solver};
use crate::exchange::{Call, Order, Report};

/// How a promise is kept, and how it is broken.
type Promised = (Function, Function);

thread_local! {
    static SOLVER: RefCell<Option<Solver>> = const { RefCell::new(None) };
    static CALLS: Cell<u32> = const { Cell::new(0) };
    static PROMISED: RefCell<BTreeMap<u32, Promised>> = const { RefCell::new(BTreeMap::new()) };
}

/// A promise of the answer, a text.
pub fn answer(what: Call) -> Promise {
    let call = CALLS.get().wrapping_add(1);
    CALLS.set(call);
    let mut what = Some(what);
    Promise::new(&mut |keep, break_off| {
        PROMISED.with_borrow_mut(|promised| promised.insert(call, (keep, break_off)));
        if let Some(what) = what.take() {
            give(&Order::Call { call, what });
        }
    })
}

fn give(order: &Order) {
    let failed = SOLVER.with_borrow_mut(|solver| {
        if solver.is_none() {
            match Solver::start(hear) {
                Ok(started) => *solver = Some(started),
                Err(words) => return Some(words),
            }
        }
        if let Some(solver) = solver {
            solver.give(order);
        }
        None
    });
    if let Some(words) = failed {
        break_all(&words);
    }
}

fn hear(heard: Heard) {
    match heard {
        Heard::Report(Report::Answer { call, text }) => {
            let promised = PROMISED.with_borrow_mut(|promised| promised.remove(&call));
            if let Some((keep, _)) = promised {
                // Keeping a promise does not fail.
                let _ = keep.call1(&JsValue::NULL, &JsValue::from_str(&text));
            }
        }
        Heard::Report(_) => {}
        Heard::Died { words, .. } => {
            SOLVER.take();
            break_all(&words);
        }
    }
}

fn break_all(words: &str) {
    let promised = PROMISED.with_borrow_mut(std::mem::take);
    for (_, break_off) in promised.into_values() {
        let error = js_sys::Error::new(words);
        // Breaking one does not fail either.
        let _ = break_off.call1(&JsValue::NULL, &error);
    }
}
