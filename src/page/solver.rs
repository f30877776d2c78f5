//! A worker that computes: started, heard, and ended.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use gloo_events::EventListener;
use js_sys::Uint8Array;
use leptos::prelude::document;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{ErrorEvent, MessageEvent, Worker, WorkerOptions, WorkerType};

use crate::exchange::{Order, Report, decode, encode};

/// What starts it, beside the page.
const SCRIPT: &str = "./solver-start.js";

/// What a worker has to say.
pub enum Heard {
    Report(Report),
    /// It has died, or could not be started: its last words.
    Died {
        was_ready: bool,
        words: String,
    },
}

/// A running worker; ends when it is dropped.
pub struct Solver {
    worker: Worker,
    state: Rc<State>,
    _listeners: [EventListener; 3],
}

#[derive(Default)]
struct State {
    is_ready: Cell<bool>,
    /// Orders given before it could take any.
    waiting: RefCell<Vec<Uint8Array>>,
}

impl Solver {
    /// Starts a worker.
    ///
    /// # Errors
    /// The browser's words, where it starts none.
    pub fn start(hear: impl Fn(Heard) + Clone + 'static) -> Result<Solver, String> {
        let options = WorkerOptions::new();
        options.set_type(WorkerType::Module);
        let address = format!("{SCRIPT}?{}", version());
        let worker = Worker::new_with_options(&address, &options).map_err(|error| said(&error))?;
        let state = Rc::new(State::default());
        let message = {
            let (worker, state, hear) = (worker.clone(), Rc::clone(&state), hear.clone());
            move |event: &web_sys::Event| {
                let Some(event) = event.dyn_ref::<MessageEvent>() else {
                    return;
                };
                match decode(&Uint8Array::new(&event.data()).to_vec()) {
                    Ok(Report::Ready) => {
                        state.is_ready.set(true);
                        for order in state.waiting.take() {
                            post(&worker, &order);
                        }
                    }
                    Ok(report) => hear(Heard::Report(report)),
                    Err(error) => hear(Heard::Died {
                        was_ready: true,
                        words: error.to_string(),
                    }),
                }
            }
        };
        let died = |state: &Rc<State>| {
            let (state, hear) = (Rc::clone(state), hear.clone());
            move |event: &web_sys::Event| {
                event.prevent_default();
                let words = event.dyn_ref::<ErrorEvent>().map(ErrorEvent::message);
                hear(Heard::Died {
                    was_ready: state.is_ready.get(),
                    words: words.unwrap_or_default(),
                });
            }
        };
        let listeners = [
            EventListener::new(&worker, "message", message),
            EventListener::new(&worker, "error", died(&state)),
            EventListener::new(&worker, "messageerror", died(&state)),
        ];
        Ok(Solver {
            worker,
            state,
            _listeners: listeners,
        })
    }

    /// Gives it an order.
    pub fn give(&self, order: &Order) {
        // All orders can be written.
        let Ok(bytes) = encode(order) else { return };
        let bytes = Uint8Array::from(&bytes[..]);
        if self.state.is_ready.get() {
            post(&self.worker, &bytes);
        } else {
            self.state.waiting.borrow_mut().push(bytes);
        }
    }
}

impl Drop for Solver {
    fn drop(&mut self) {
        self.worker.terminate();
    }
}

fn post(worker: &Worker, bytes: &Uint8Array) {
    let transfer = js_sys::Array::of1(&bytes.buffer());
    // Only fails on what cannot be sent, and bytes can.
    let _ = worker.post_message_with_transfer(bytes, &transfer);
}

fn said(error: &JsValue) -> String {
    let error = error.dyn_ref::<js_sys::Error>();
    error.map_or_else(String::new, |error| String::from(error.message()))
}

/// What sets this build of the page apart: its module's name, which holds a hash.
fn version() -> String {
    let module = document().query_selector("link[rel=modulepreload]");
    let address = module
        .ok()
        .flatten()
        .and_then(|link| link.get_attribute("href"));
    let name = address.unwrap_or_default();
    let name = name.trim_end_matches(".js");
    name.rsplit_once('-')
        .map_or("", |(_, hash)| hash)
        .to_owned()
}
