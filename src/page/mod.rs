//! The page: draws an outcome and edits a design. Knows no circuit theory.

mod ask;
mod band;
mod begin;
mod bench;
mod better;
mod chart;
mod comparison;
mod cursor;
mod curves;
mod desk;
mod document;
mod drafts;
mod engine;
mod field;
mod filter;
mod focus;
mod fragment;
mod guide;
mod header;
mod histogram;
mod intake;
mod legend;
mod link;
mod markup;
mod noise;
mod notice;
mod op_amps;
mod others;
mod panel;
mod parts;
mod path;
mod picks;
mod prelude;
mod regions;
mod reload;
mod saving;
mod schematic;
pub mod scripts;
mod servo;
mod sheet;
mod sight;
mod signals;
mod solver;
mod spread;
mod table;
mod theme;
mod trouble;
mod turns;

use crate::page::prelude::*;

use crate::worker::turn;
use desk::Desk;

/// Puts the page into the document's body, in a task of its own behind the one that compiled the module.
pub fn begin() {
    console_error_panic_hook::set_once();
    turn::after(mount);
}

fn mount() {
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
    focus::watch();
    regions::watch(desk);
    document::steps::watch(desk);
    comparison::watch();
    document::kept::watch(desk);
    sheet::watch(desk);
    let has_stage = desk.has_stage();
    view! {
        <header::Header />
        <document::Document />
        <main>
            {later(|| view! { <path::Strip /> }.into_node())}
            {later(|| view! { <filter::Filter /> }.into_node())}
            <div class="columns" id="parts">
                {later(|| view! { <ask::Ask /> }.into_node())}
                <Show when=move || has_stage.get()>
                    {later(|| view! { <parts::Parts /> }.into_node())}
                    {later(|| view! { <curves::Curves /> }.into_node())}
                    {later(|| view! { <picks::Picks /> }.into_node())}
                    {later(|| view! { <others::Others /> }.into_node())}
                </Show>
            </div>
            {later(|| view! { <op_amps::OpAmps /> }.into_node())}
            {later(|| view! { <path::Whole /> }.into_node())}
            {later(|| view! { <spread::Spread /> }.into_node())}
            {later(|| view! { <noise::Noise /> }.into_node())}
            {later(|| view! { <servo::Loop /> }.into_node())}
            {later(|| view! { <bench::Bench /> }.into_node())}
            {later(|| view! { <comparison::Comparison /> }.into_node())}
        </main>
        {later(|| view! { <header::Footer /> }.into_node())}
        {later(|| view! { <band::Band /> }.into_node())}
        {later(|| view! { <sheet::Sheet /> }.into_node())}
    }
}
