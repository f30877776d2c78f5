//! Whether something is in sight: what nobody sees need not be drawn.

use crate::page::prelude::*;
use leptos::html::Canvas;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{IntersectionObserver, IntersectionObserverEntry, IntersectionObserverInit};

/// How near to the window counts as in sight: a turn of the wheel.
const NEAR: &str = "400px";

/// Follows whether a canvas is in sight, or nearly; true where the browser cannot tell, and on paper.
pub fn in_sight(canvas: NodeRef<Canvas>) -> Derived<bool> {
    let seen = Held::new(false);
    Effect::new(move || {
        let Some(canvas) = canvas.get() else { return };
        let look = Closure::<dyn FnMut(js_sys::Array)>::new(move |entries: js_sys::Array| {
            let last = entries.pop().dyn_into::<IntersectionObserverEntry>();
            let is_in = last.is_ok_and(|entry| entry.is_intersecting());
            // A region that is only now out of sight keeps what it shows.
            if seen.get_untracked() != is_in {
                seen.set(is_in);
            }
        });
        let options = IntersectionObserverInit::new();
        options.set_root_margin(NEAR);
        let observer =
            IntersectionObserver::new_with_options(look.as_ref().unchecked_ref(), &options);
        match observer {
            Ok(observer) => {
                observer.observe(&canvas);
                let kept = StoredValue::new_local(Some((observer, look)));
                on_cleanup(move || {
                    kept.update_value(|kept| {
                        if let Some((observer, _)) = kept.take() {
                            observer.disconnect();
                        }
                    });
                });
            }
            Err(_) => seen.set(true),
        }
    });
    let printing = Held::new(false);
    let before = window_event_listener_untyped("beforeprint", move |_| printing.set(true));
    let after = window_event_listener_untyped("afterprint", move |_| printing.set(false));
    on_cleanup(move || {
        before.remove();
        after.remove();
    });
    memo(move || seen.get() || printing.get())
}
