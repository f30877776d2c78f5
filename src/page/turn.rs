//! Gives the page its turn between two slices of work.
//!
//! A message to oneself comes back behind whatever the browser has to do. A timer would do, too, but
//! browsers hold a timer that sets the next timer back by 4 ms, which is half as long as a slice. A message
//! may come back before the browser draws, though: what is to be seen at once waits for the frame.

use std::cell::{Cell, RefCell};

use gloo_timers::callback::Timeout;
use leptos::prelude::{AnimationFrameRequestHandle, request_animation_frame_with_handle};
use wasm_bindgen::JsValue;
use wasm_bindgen::closure::Closure;
use web_sys::{MessageChannel, MessageEvent};

type Next = Box<dyn FnOnce()>;

/// A page that is not seen is not drawn: after so many ms it is not waited for.
const UNSEEN: u32 = 100;

/// What comes first ends the wait for a frame.
struct Frame {
    drawing: Option<AnimationFrameRequestHandle>,
    _unseen: Timeout,
}

thread_local! {
    static NEXT: RefCell<Option<Next>> = const { RefCell::new(None) };
    /// Whether a message is on its way: a second one would never die out while work goes on.
    static IS_SENT: Cell<bool> = const { Cell::new(false) };
    static FRAME: RefCell<Option<Frame>> = const { RefCell::new(None) };
    static CHANNEL: Option<MessageChannel> = open();
}

/// Has `next` run when the page has had its turn, instead of what was to run before.
pub fn after(next: impl FnOnce() + 'static) {
    NEXT.set(Some(Box::new(next)));
    send();
}

/// The same when the page has been drawn as it is now.
pub fn after_frame(next: impl FnOnce() + 'static) {
    NEXT.set(Some(Box::new(next)));
    FRAME.with_borrow_mut(|frame| {
        frame.get_or_insert_with(|| Frame {
            drawing: request_animation_frame_with_handle(is_drawn).ok(),
            _unseen: Timeout::new(UNSEEN, is_drawn),
        });
    });
}

/// Drops what was to run.
pub fn drop_next() {
    NEXT.set(None);
}

fn is_drawn() {
    if let Some(drawing) = FRAME.take().and_then(|frame| frame.drawing) {
        drawing.cancel();
    }
    send();
}

fn send() {
    if IS_SENT.replace(true) {
        return;
    }
    CHANNEL.with(|channel| {
        let sent = channel
            .as_ref()
            .is_some_and(|channel| channel.port2().post_message(&JsValue::NULL).is_ok());
        if !sent {
            Timeout::new(0, run).forget();
        }
    });
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
