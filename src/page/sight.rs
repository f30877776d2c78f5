//! Whether something is in sight: what nobody sees need not be drawn.

use std::sync::Arc;

use crate::page::prelude::*;
use leptos::html::Canvas;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{IntersectionObserver, IntersectionObserverEntry, IntersectionObserverInit};

use super::chart;
use super::desk::Desk;
use super::theme::Theme;
use crate::plots::Plot;

/// How near to the window counts as in sight: a turn of the wheel.
const NEAR: &str = "400px";

/// Draws a plot on its canvas whenever it changes, in sight or nearly.
pub fn follow(desk: Desk, canvas: NodeRef<Canvas>, plot: impl Fn() -> Option<Arc<Plot>> + 'static) {
    drawing(desk, canvas, Box::new(plot));
}

fn drawing(desk: Desk, canvas: NodeRef<Canvas>, plot: Box<dyn Fn() -> Option<Arc<Plot>>>) {
    let seen = in_sight(canvas);
    Effect::new(move |last: Option<(u32, bool)>| {
        let redraw = desk.redraw.get();
        if !seen.get() {
            return (redraw, false);
        }
        let drawn = canvas.get().zip(plot());
        if let Some((canvas, plot)) = &drawn {
            if last != Some((redraw, true)) {
                chart::fit(canvas);
            }
            chart::draw(canvas, plot, &Theme::now());
        }
        (redraw, drawn.is_some())
    });
}

/// Follows whether a canvas is in sight, or nearly; true where the browser cannot tell, and on paper.
fn in_sight(canvas: NodeRef<Canvas>) -> Derived<bool> {
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
    memo(move || seen.get())
}
