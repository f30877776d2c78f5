//! The page: draws an outcome and edits a design. Knows no circuit theory.

mod ask;
mod band;
mod begin;
mod better;
mod chart;
mod cursor;
mod curves;
mod desk;
mod drafts;
mod engine;
mod field;
mod filter;
mod focus;
mod fragment;
mod header;
mod histogram;
mod link;
mod markup;
mod notice;
mod others;
mod panel;
mod parts;
mod path;
mod picks;
mod prelude;
mod regions;
mod reload;
mod schematic;
pub mod scripts;
mod servo;
mod sight;
mod signals;
mod solver;
mod spread;
mod theme;
mod trouble;
mod turns;

use crate::page::prelude::*;

use desk::Desk;

/// Puts the page into the document's body.
pub fn mount() {
    console_error_panic_hook::set_once();
    if let Some(start) = document().get_element_by_id("start") {
        start.remove();
    }
    turns::begin();
    leptos::mount::mount_to_body(App);
}

#[component]
fn App() -> impl IntoView {
    let desk = Desk::open();
    provide_context(desk);
    engine::run(desk);
    fragment::follow(desk);
    theme::watch(desk);
    regions::watch(desk);
    let has_stage = desk.has_stage();
    view! {
        <header::Header />
        <main>
            <path::Strip />
            <filter::Filter />
            <div class="columns" id="parts">
                <ask::Ask />
                <Show when=move || has_stage.get()>
                    <parts::Parts />
                    <curves::Curves />
                    <picks::Picks />
                    <others::Others />
                </Show>
            </div>
            <path::Whole />
            <spread::Spread />
            <servo::Loop />
        </main>
        <header::Footer />
        <band::Band />
    }
}
