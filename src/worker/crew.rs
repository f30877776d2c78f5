//! Further workers of the same module: started, heard, and ended. Where the browser starts none, or one dies, the work
//! goes on with the rest, and nobody is told.

use std::cell::{Cell, RefCell};

use js_sys::Array;
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Event, MessageEvent, Worker, WorkerOptions, WorkerType};

use super::{HELPER, bytes, message, scope};
use crate::exchange::{HelperOrder, HelperReport};
use crate::spread::MOST_WORKERS;

/// A helper that is silent for so long while all is waiting for it is given up, ms.
const LATE: i32 = 3000;

thread_local! {
    /// By the order in which they were started.
    static HELPERS: RefCell<Vec<Helper>> = const { RefCell::new(Vec::new()) };
    static IS_STARTED: Cell<bool> = const { Cell::new(false) };
    /// Counts reports: whether anything was heard since.
    static HEARD: Cell<u32> = const { Cell::new(0) };
}

/// Who hears of helpers; by the number that `joined` gives them.
pub struct Ears {
    /// One is there; its number.
    pub joined: fn() -> usize,
    /// It can be given something to do.
    pub ready: fn(),
    /// What it has to say.
    pub reported: fn(usize, HelperReport),
    /// It is gone.
    pub left: fn(usize),
}

struct Helper {
    /// None once it has died.
    worker: Option<Worker>,
    /// What the session calls it, once it is ready.
    number: Option<usize>,
}

/// Starts as many as there are further cores, once.
pub fn start(ears: &'static Ears) {
    if IS_STARTED.replace(true) {
        return;
    }
    let cores = scope().navigator().hardware_concurrency();
    let further = (cores as usize).min(MOST_WORKERS).saturating_sub(1);
    for place in 0..further {
        let Ok(worker) = start_one(place, ears) else {
            return;
        };
        HELPERS.with_borrow_mut(|helpers| {
            helpers.push(Helper {
                worker: Some(worker),
                number: None,
            });
        });
    }
}

fn start_one(place: usize, ears: &'static Ears) -> Result<Worker, JsValue> {
    let options = WorkerOptions::new();
    options.set_type(WorkerType::Module);
    options.set_name(HELPER);
    let worker = Worker::new_with_options(&scope().location().href(), &options)?;
    let reported = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        heard(place, message(&event), ears);
    });
    worker.set_onmessage(Some(reported.as_ref().unchecked_ref()));
    let died = Closure::<dyn FnMut(Event)>::new(move |event: Event| {
        // It is no failure of this worker.
        event.prevent_default();
        end(place, ears);
    });
    worker.set_onerror(Some(died.as_ref().unchecked_ref()));
    worker.set_onmessageerror(Some(died.as_ref().unchecked_ref()));
    // Both live as long as this worker.
    reported.forget();
    died.forget();
    // Compiled already.
    worker.post_message(&wasm_bindgen::module())?;
    Ok(worker)
}

fn heard(place: usize, report: HelperReport, ears: &Ears) {
    HEARD.set(HEARD.get().wrapping_add(1));
    if report == HelperReport::Ready {
        // Known before the session gives it its first order.
        let number = (ears.joined)();
        HELPERS.with_borrow_mut(|helpers| {
            if let Some(helper) = helpers.get_mut(place) {
                helper.number = Some(number);
            }
        });
        return (ears.ready)();
    }
    let number = HELPERS.with_borrow(|helpers| helpers.get(place).and_then(|helper| helper.number));
    if let Some(number) = number {
        (ears.reported)(number, report);
    }
}

/// Tells one what to do.
pub fn tell(number: usize, order: &HelperOrder) {
    let bytes = bytes(order);
    HELPERS.with_borrow(|helpers| {
        let mut all = helpers.iter();
        let worker = all.find(|helper| helper.number == Some(number));
        if let Some(worker) = worker.and_then(|helper| helper.worker.as_ref()) {
            // Only fails on what cannot be sent, and bytes can.
            let _ = worker.post_message_with_transfer(&bytes, &Array::of1(&bytes.buffer()));
        }
    });
}

/// One has died, or is given up.
fn end(place: usize, ears: &Ears) {
    let number = HELPERS.with_borrow_mut(|helpers| {
        let helper = helpers.get_mut(place)?;
        helper.worker.take()?.terminate();
        helper.number.take()
    });
    if let Some(number) = number {
        (ears.left)(number);
    }
}

/// Gives these up, unless something is heard in time.
pub fn watch(numbers: Vec<usize>, ears: &'static Ears) {
    let before = HEARD.get();
    let late = Closure::once_into_js(move || {
        if HEARD.get() != before {
            return;
        }
        let places: Vec<usize> = HELPERS.with_borrow(|helpers| {
            let all = helpers.iter().enumerate();
            let silent = all.filter(|(_, h)| h.number.is_some_and(|n| numbers.contains(&n)));
            silent.map(|(place, _)| place).collect()
        });
        places.into_iter().for_each(|place| end(place, ears));
    });
    // Only fails without a function.
    let _ =
        scope().set_timeout_with_callback_and_timeout_and_arguments_0(late.unchecked_ref(), LATE);
}
