//! What the page does when its worker dies, is silent, or cannot be started: it says so, keeps the design, and goes on
//! with the next change.

use std::cell::{Cell, RefCell};

use crate::page::prelude::*;
use gloo_timers::callback::Interval;
use serde_json::Value;

use super::desk::Desk;
use super::{engine, fragment};
use crate::design::{Design, InputError, fields};
use crate::exchange::{Order, Report};

/// A worker that works reports ten times a second; after so many ms without a word the page says so.
const PATIENCE: f64 = 4000.0;
/// How often that is looked at, ms.
const LOOK: u32 = 500;

/// What keeps results from coming.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// The browser's words.
    NotStarted(String),
    /// It died; on which entry, where that is known.
    Died(Option<String>),
    /// It is at work and has not been heard for long.
    Silent,
    /// The user has stopped it.
    Stopped,
}

thread_local! {
    static HEARD_AT: Cell<f64> = const { Cell::new(0.0) };
    static IS_SOLVING: Cell<bool> = const { Cell::new(false) };
    /// Questions without an answer.
    static OPEN: Cell<u32> = const { Cell::new(0) };
    /// The entry on which the worker died last, and its value then.
    static CULPRIT: RefCell<Option<(String, Value)>> = const { RefCell::new(None) };
    /// The last design whose parts, boards and loop were found.
    static GOOD: RefCell<Option<Design>> = const { RefCell::new(None) };
}

/// Looks after the worker from now on.
pub fn watch(desk: Desk) {
    Interval::new(LOOK, move || {
        let is_awaited = IS_SOLVING.get() || OPEN.get() > 0;
        let is_silent = is_awaited && js_sys::Date::now() > HEARD_AT.get() + PATIENCE;
        if is_silent && desk.trouble.with_untracked(Option::is_none) {
            desk.trouble.set(Some(Trouble::Silent));
        }
    })
    .forget();
}

/// An order was given.
pub fn ordered(order: &Order) {
    if !IS_SOLVING.get() && OPEN.get() == 0 {
        HEARD_AT.set(js_sys::Date::now());
    }
    match order {
        Order::Solve { .. } => IS_SOLVING.set(true),
        _ => OPEN.set(OPEN.get() + 1),
    }
}

/// The worker was heard; `latest` is the last change of the design.
pub fn heard(desk: Desk, report: &Report, latest: u32) {
    HEARD_AT.set(js_sys::Date::now());
    match report {
        Report::Done { edit } if *edit == latest => IS_SOLVING.set(false),
        Report::Settled { edit, field }
            if *edit == latest
                && field == "loops"
                && desk.refused.with_untracked(Vec::is_empty) =>
        {
            GOOD.set(Some(desk.design.get_untracked()));
        }
        Report::Board { .. }
        | Report::Read { .. }
        | Report::Kept { .. }
        | Report::Available(_)
        | Report::Sheet { .. }
        | Report::Exported { .. } => {
            OPEN.set(OPEN.get().saturating_sub(1));
        }
        _ => {}
    }
    if desk
        .trouble
        .with_untracked(|now| *now == Some(Trouble::Silent))
    {
        desk.trouble.set(None);
    }
}

/// The worker died, or could not be started.
pub fn died(desk: Desk, was_ready: bool, words: String) {
    let was_solving = IS_SOLVING.replace(false);
    OPEN.set(0);
    desk.looks_through.set(false);
    if !was_ready {
        desk.trouble.set(Some(Trouble::NotStarted(words)));
        return;
    }
    GOOD.with_borrow_mut(|good| good.take_if(|good| desk.design.with_untracked(|now| good == now)));
    let entry = was_solving.then(|| culprit(desk)).flatten();
    if let Some((path, label)) = &entry {
        let message = format!(
            "The program failed on “{label}” as it is here. Everything is kept; change this entry to go on."
        );
        desk.refused.set(vec![InputError::new(path, message)]);
    }
    let entry = entry.map(|(_, label)| label);
    desk.trouble.set(Some(Trouble::Died(entry)));
}

/// The entry that made the worker die: the one that did before, where it is still as it was then, else the one that
/// was changed last.
fn culprit(desk: Desk) -> Option<(String, String)> {
    let tree = desk.tree.get_untracked();
    let same = CULPRIT.with_borrow(|known| {
        let (path, value) = known.as_ref()?;
        (tree.pointer(path) == Some(value)).then(|| path.clone())
    });
    let path = same.or_else(|| desk.entry.get_value())?;
    CULPRIT.set(
        tree.pointer(&path)
            .map(|value| (path.clone(), value.clone())),
    );
    let all = desk.design.with_untracked(fields);
    let label = all
        .into_iter()
        .find(|(_, field)| field.path == path)?
        .1
        .label;
    Some((path, label))
}

/// Ends what is at work.
fn stop(desk: Desk) {
    engine::stop();
    IS_SOLVING.set(false);
    OPEN.set(0);
    desk.looks_through.set(false);
    desk.trouble.set(Some(Trouble::Stopped));
}

/// What is wrong, and what can be done.
#[component]
pub fn Told() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let again = move |_: leptos::ev::MouseEvent| desk.design.update(|_| {});
    let back = move |_| {
        if let Some(good) = GOOD.with_borrow(Clone::clone) {
            fragment::step(desk, || desk.replace(good));
        }
    };
    let sentence = move || {
        desk.trouble.get().map(|trouble| match trouble {
            Trouble::NotStarted(words) => format!(
                "The part that computes could not be started{}. Check the connection; everything typed is kept.",
                in_brackets(&words)
            ),
            Trouble::Died(Some(label)) => format!(
                "The program failed on “{label}”. Everything is kept, and the last good result is shown; change that entry to go on."
            ),
            Trouble::Died(None) => {
                "The program failed on the last change. Everything is kept; change something to go on.".to_owned()
            }
            Trouble::Silent => "There was no answer for some seconds; the work may take long, or hang.".to_owned(),
            Trouble::Stopped => "Stopped. Results are those found before; change something to go on, or try again.".to_owned(),
        })
    };
    let is_silent = move || {
        desk.trouble
            .with(|trouble| *trouble == Some(Trouble::Silent))
    };
    let has_good = move || {
        let is_dead = desk
            .trouble
            .with(|trouble| matches!(trouble, Some(Trouble::Died(_) | Trouble::Stopped)));
        is_dead && GOOD.with_borrow(Option::is_some)
    };
    view! {
        <Show when=move || desk.trouble.with(Option::is_some)>
            <div class="trouble problem" role="alert">
                <p>{sentence}</p>
                <p class="buttons">
                    <Show when=is_silent fallback=move || view! {
                        <button type="button" on:click=again>"Try again"</button>
                    }>
                        <button type="button" on:click=move |_| stop(desk)>"Stop"</button>
                    </Show>
                    <Show when=has_good>
                        <button type="button" on:click=back>"Back to the last design that worked"</button>
                    </Show>
                </p>
            </div>
        </Show>
    }
}

fn in_brackets(words: &str) -> String {
    match words.trim() {
        "" => String::new(),
        words => format!(" ({words})"),
    }
}
