//! What leaves the page: parts list, netlist, transfer functions, tables.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;
use web_sys::HtmlDetailsElement;

use super::download::download;
use crate::exchange::Order;
use crate::export::{File, What};
use crate::page::desk::Desk;
use crate::page::engine;
use crate::page::notice::say;

/// Boards that a parts list may be for.
const MOST: u32 = 1_000_000;

/// A button for each file that there is.
#[component]
pub fn Export() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let is_open = Held::new(false);
    let boards = Held::new("1".to_owned());
    // What there is hangs on how far the work has come.
    Effect::new(move || {
        let now = (
            is_open.get(),
            desk.spread_is_current.get(),
            desk.contributions_are_current.get(),
        );
        desk.stages.track();
        if now.0 {
            engine::give(desk, &Order::Available);
        }
    });
    let opened = move |event: ev::Event| {
        let details = event
            .target()
            .and_then(|t| t.dyn_into::<HtmlDetailsElement>().ok());
        is_open.set(details.is_some_and(|details| details.open()));
    };
    let count = memo(move || {
        let count = boards.with(|text| text.trim().parse().ok());
        count.filter(|count| (1..=MOST).contains(count))
    });
    let take = move |what: What| {
        move |_| {
            if let Some(boards) = count.get_untracked() {
                engine::give(desk, &Order::Export { what, boards });
            }
        }
    };
    let buttons = move |pictures: bool| {
        move || {
            let there = desk.available.get();
            let there = there
                .into_iter()
                .filter(|what| what.is_picture() == pictures);
            let all = there.map(|what| {
                let label = what.label().into_owned();
                view! { <li><button type="button" on:click=take(what)>{label}</button></li> }
            });
            all.collect_nodes()
        }
    };
    let is_none = move || desk.available.with(Vec::is_empty);
    let problem = move || {
        let bad = count.get().is_none();
        bad.then(|| view! { <span class="problem" id="boards-to-buy-error">{format!("Boards to buy for: write a whole number from 1 to {MOST}.")}</span> })
    };
    let invalid = move || count.get().is_none().then_some("true");
    view! {
        <details class="export" on:toggle=opened>
            <summary>"Export: parts list, netlist, tables, pictures"</summary>
            <form class="field" autocomplete="off" method="dialog">
                <label for="boards-to-buy">"Boards to buy for"</label>
                <input
                    id="boards-to-buy"
                    type="text"
                    inputmode="numeric"
                    aria-invalid=invalid
                    aria-describedby="boards-to-buy-error"
                    prop:value=move || boards.get()
                    on:input=move |event| boards.set(event_target_value(&event))
                />
                {problem}
            </form>
            <Show when=is_none>
                <p class="secondary">"Nothing is there to export yet."</p>
            </Show>
            <ul class="files">{buttons(false)}</ul>
            <details class="pictures">
                <summary>"Schematics and charts as SVG"</summary>
                <ul class="files">{buttons(true)}</ul>
            </details>
            <p class="secondary">
                "Tables are CSV (RFC 4180); the netlist has one element a line; poles, zeros and gain are JSON. Parts lists are for whole \
                 paths. Before you buy, check values, voltage ratings and dielectrics against the data sheets."
            </p>
        </details>
    }
}

/// Saves a file that the worker has made, or says why there is none.
pub fn save(desk: Desk, what: What, file: Result<Box<File>, String>) {
    let told = match file {
        Ok(file) => match download(&file.name, &file.media_type, &file.text) {
            Ok(()) => return,
            Err(_) => "The browser does not save files from this page.".to_owned(),
        },
        Err(sentence) => format!("{}: {sentence}", what.label()),
    };
    say(desk, told);
}
