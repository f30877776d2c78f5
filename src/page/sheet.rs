//! The build sheet on the page: written by the worker, out of sight, and all that is printed.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use crate::page::prelude::*;
use gloo_timers::callback::Timeout;

use super::desk::Desk;
use super::{engine, turns};
use crate::exchange::Order;

/// The sheet is asked for when nothing has changed for so long, ms: who types is not held up by it.
const PAUSE: u32 = 400;

/// A sheet that the worker has written.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// The change of the design that it belongs to.
    edit: u32,
    /// Whether the worst case and what contributes to it were known.
    is_whole: bool,
    text: Arc<str>,
}

thread_local! {
    static LATER: RefCell<Option<Timeout>> = const { RefCell::new(None) };
    /// What was asked for: whether all was known then.
    static ASKED: Cell<Option<bool>> = const { Cell::new(None) };
}

/// Has the sheet written whenever the page has come to rest.
pub fn watch(desk: Desk) {
    Effect::new(move || {
        desk.design.track();
        desk.drafts.track();
        let is_ready = is_ready(desk);
        desk.contributions_are_current.track();
        LATER.set(is_ready.then(|| Timeout::new(PAUSE, move || ask(desk))));
        // There is no better one to wait for.
        if desk.in_error() && desk.print_waits.get_untracked() {
            print(desk);
        }
    });
    // What is printed is what stands on the page when this is over.
    let before = window_event_listener_untyped("beforeprint", move |_| {
        // A change of just now counts.
        turns::finish();
        desk.sheet_warning.set(warning(desk));
        turns::finish();
    });
    on_cleanup(move || before.remove());
}

/// Whether all that the sheet cannot do without is there.
fn is_ready(desk: Desk) -> bool {
    desk.spread_is_current.get() && !desk.looks_through.get() && !desk.in_error()
}

fn ask(desk: Desk) {
    let is_whole = desk.contributions_are_current.get_untracked();
    let is_known = desk.sheet.with_untracked(|sheet| {
        let known = sheet.as_ref();
        known.is_some_and(|known| known.edit == engine::edit() && known.is_whole >= is_whole)
    });
    // One at a time: what has changed meanwhile is asked for when the answer is there.
    if !is_known && ASKED.get().is_none() {
        ASKED.set(Some(is_whole));
        engine::give(desk, &Order::Sheet);
    }
}

/// Takes what the worker has written.
pub fn take(desk: Desk, edit: u32, text: &str) {
    let is_whole = ASKED.take().unwrap_or_default();
    desk.sheet.set(Some(Written {
        edit,
        is_whole,
        text: text.into(),
    }));
    if untrack(|| is_ready(desk)) {
        LATER.set(Some(Timeout::new(PAUSE, move || ask(desk))));
    }
    if desk.print_waits.get_untracked() && is_current(desk) {
        print(desk);
    }
}

/// The worker is gone with what it was to write.
pub fn forget() {
    ASKED.set(None);
}

/// Whether the sheet has all that there is to say of the design.
fn is_current(desk: Desk) -> bool {
    desk.sheet.with_untracked(|sheet| {
        let known = sheet.as_ref();
        known.is_some_and(|known| known.edit == engine::edit() && known.is_whole)
    })
}

/// What must be said of a sheet that is printed as it stands.
fn warning(desk: Desk) -> Option<&'static str> {
    let edit = desk
        .sheet
        .with_untracked(|sheet| sheet.as_ref().map(|sheet| sheet.edit));
    if edit.is_none() {
        return Some("The build sheet is not written yet: “Print build sheet” waits for it.");
    }
    if untrack(|| desk.in_error()) {
        return Some(
            "An entry on the page is not valid: this sheet is of the last design that could be worked on.",
        );
    }
    (edit != Some(engine::edit())).then_some(
        "This sheet is older than the design: “Print build sheet” waits for the new one.",
    )
}

/// Prints the sheet when the page is at rest.
fn print(desk: Desk) {
    desk.print_waits.set(false);
    turns::at_rest(|| {
        // Fails only where the browser does not print.
        let _ = window().print();
    });
}

/// The button; it waits for the sheet of the design as it is.
#[component]
pub fn Print() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let press = move |_| {
        if is_current(desk) || untrack(|| desk.in_error()) {
            print(desk);
        } else {
            desk.print_waits.set(true);
        }
    };
    let words = move || match desk.print_waits.get() {
        true => "Preparing the build sheet …",
        false => "Print build sheet",
    };
    view! { <button type="button" on:click=press>{words}</button> }
}

/// The sheet itself, which is seen on paper alone.
#[component]
pub fn Sheet() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let text = move || {
        let written = desk.sheet.get();
        written.map_or(String::new(), |written| written.text.to_string())
    };
    view! {
        <section class="sheet">
            <p class="sheet-warning">{move || desk.sheet_warning.get()}</p>
            <div class="sheet-pages" prop:innerHTML=text></div>
        </section>
    }
}
