//! Undo and redo, by button and by keyboard.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use crate::page::prelude::*;
use leptos::ev;
use serde_json::Value;
use wasm_bindgen::JsCast;
use web_sys::HtmlElement;

use crate::design::Design;
use crate::document::{History, change};
use crate::page::desk::Desk;

thread_local! {
    static HISTORY: RefCell<History> = RefCell::default();
    /// Whether the next change is a step back or forth.
    static IS_STEP: Cell<bool> = const { Cell::new(false) };
}

/// Whether there is a way back, and a way forth.
#[derive(Clone, Copy)]
struct Ways {
    back: Held<bool>,
    forth: Held<bool>,
}

/// A way through the history.
type Way = fn(&mut History, Arc<str>) -> Option<Arc<str>>;

/// Remembers every change of the design, and follows the keyboard.
pub fn watch(desk: Desk) {
    let ways = Ways {
        back: Held::new(false),
        forth: Held::new(false),
    };
    provide_context(ways);
    Effect::new(move |before: Option<(Arc<str>, Arc<Value>)>| {
        let (text, tree) = (desk.text.get(), desk.tree.get());
        if let Some((text_before, tree_before)) = before
            && text_before != text
            && !IS_STEP.replace(false)
            && let Some(place) = change(&tree_before, &tree)
        {
            let now = js_sys::Date::now();
            HISTORY.with_borrow_mut(|history| history.record(text_before, &place, now));
        }
        HISTORY.with_borrow(|history| {
            tell(ways.back, history.can_undo());
            tell(ways.forth, history.can_redo());
        });
        (text, tree)
    });
    let pressed = window_event_listener(ev::keydown, move |event| {
        let is_command = (event.ctrl_key() || event.meta_key()) && !event.alt_key();
        let way: Way = match (event.key().to_ascii_lowercase().as_str(), event.shift_key()) {
            ("z", false) if is_command => History::undo,
            ("z", true) | ("y", false) if is_command => History::redo,
            _ => return,
        };
        // What cannot be read is in no design: in its field the browser's own way back is meant.
        if desk.unread.with_untracked(|unread| !unread.is_empty()) && is_in_a_field() {
            return;
        }
        event.prevent_default();
        go(desk, way);
    });
    on_cleanup(move || pressed.remove());
}

fn tell(signal: Held<bool>, is_there: bool) {
    if signal.get_untracked() != is_there {
        signal.set(is_there);
    }
}

fn is_in_a_field() -> bool {
    let active = document().active_element();
    let name = active.map(|element| element.tag_name().to_ascii_lowercase());
    matches!(name.as_deref(), Some("input" | "textarea"))
}

/// Goes a step; what is shown of the design stays as it is.
fn go(desk: Desk, way: Way) {
    let now = desk.text.get_untracked();
    let Some(text) = HISTORY.with_borrow_mut(|history| way(history, now)) else {
        return;
    };
    // It was a design when it was remembered.
    let Ok(mut design) = Design::from_json(&text) else {
        return;
    };
    let last = design.stages.len().saturating_sub(1);
    design.view = desk.design.with_untracked(|design| design.view.clone());
    design.view.stage = design.view.stage.min(last);
    IS_STEP.set(desk.design.with_untracked(|now| *now != design));
    desk.emptied.set(None);
    desk.take(design);
}

/// The two buttons.
#[component]
pub fn Steps() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let ways = expect_context::<Ways>();
    // A button that is pressed keeps the focus, also when its way has come to an end.
    let press = move |is_there: Held<bool>, way: Way| {
        move |event: ev::MouseEvent| {
            if is_there.get_untracked() {
                go(desk, way);
            }
            if let Some(button) = event
                .current_target()
                .and_then(|t| t.dyn_into::<HtmlElement>().ok())
            {
                // Fails on what cannot have it, and a button can.
                let _ = button.focus();
            }
        }
    };
    let none = |is_there: Held<bool>| move || (!is_there.get()).to_string();
    view! {
        <button type="button" title="Ctrl+Z" aria-disabled=none(ways.back) on:click=press(ways.back, History::undo)>"Undo"</button>
        <button type="button" title="Ctrl+Shift+Z" aria-disabled=none(ways.forth) on:click=press(ways.forth, History::redo)>"Redo"</button>
    }
}
