//! Gives the page its turn between two slices of work.
//!
//! A message to oneself comes back behind whatever the browser has to do. A timer would do, too, but
//! browsers hold a timer that sets the next timer back by 4 ms, which is half as long as a slice.

use std::cell::{Cell, RefCell};

use wasm_bindgen::JsValue;
use wasm_bindgen::closure::Closure;
use web_sys::{MessageChannel, MessageEvent};

type Next = Box<dyn FnOnce()>;

thread_local! {
    static NEXT: RefCell<Option<Next>> = const { RefCell::new(None) };
    /// Whether a message is on its way: a second one would never die out while work goes on.
    static IS_SENT: Cell<bool> = const { Cell::new(false) };
    static CHANNEL: Option<MessageChannel> = open();
}

/// Has `next` run when the page has had its turn, instead of what was to run before.
pub fn after(next: impl FnOnce() + 'static) {
    NEXT.set(Some(Box::new(next)));
    if IS_SENT.replace(true) {
        return;
    }
    CHANNEL.with(|channel| {
        let sent = channel
            .as_ref()
            .is_some_and(|channel| channel.port2().post_message(&JsValue::NULL).is_ok());
        if !sent {
            gloo_timers::callback::Timeout::new(0, run).forget();
        }
    });
}

/// Drops what was to run.
pub fn drop_next() {
    NEXT.set(None);
}

fn run() {
    IS_SENT.set(false);
    if let Some(next) = NEXT.take() {
        next();
    }
}

fn open() -> Option<MessageChannel> {
    let channel = MessageChannel::new().ok()?;
    let called = Closure::<dyn FnMut(MessageEvent)>::new(|_| run());
    channel
        .port1()
        .set_onmessage(Some(wasm_bindgen::JsCast::unchecked_ref(called.as_ref())));
    // Lives as long as the page.
    called.forget();
    Some(channel)
}
