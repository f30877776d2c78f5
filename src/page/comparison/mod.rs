//! The Comparison region: the design beside a copy that was kept of it, or beside another one.

mod charts;
mod copy;
mod tables;

use crate::page::prelude::*;

pub use copy::{Beside, watch};

use super::desk::Desk;
use charts::Charts;
use tables::Tables;

#[component]
pub fn Comparison() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let beside = expect_context::<Beside>();
    let has_copy = memo(move || beside.copy.with(Option::is_some));
    let told = tables::follow(desk, beside);
    let none = move || !has_copy.get();
    view! {
        <section class="comparison" id="comparison" aria-labelledby="comparison-title">
            <h2 id="comparison-title">"Comparison"</h2>
            <Show when=none>
                <p>
                    <button type="button" on:click=move |_| beside.keep(desk)>"Keep a copy to compare"</button>
                </p>
                <p class="secondary">
                    "The copy stays as it is while you change the design: entries, parts, figures and curves of both are shown here. A design that \
                     is kept in this browser can be compared with, too."
                </p>
            </Show>
            <Show when=move || has_copy.get()>
                <State />
                <Tables told />
                <Charts />
            </Show>
        </section>
    }
}

/// What is compared with, and how far it is.
#[component]
fn State() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let beside = expect_context::<Beside>();
    let name = move || {
        let copy = beside.copy.get()?;
        Some(copy.label.clone())
    };
    let state = move || match (beside.trouble.get(), beside.is_whole.get()) {
        (Some(told), _) => Some(view! { <span class="problem">{told}</span> }),
        (None, false) => {
            Some(view! { <span class="secondary">"The copy is being worked out."</span> })
        }
        (None, true) => None,
    };
    let end = move |_| beside.end();
    view! {
        <p class="compared-with">"Copy: "<strong>{name}</strong>" "<span role="status">{state}</span></p>
        <p class="buttons">
            <button type="button" on:click=move |_| beside.keep(desk)>"Keep a new copy"</button>
            <button type="button" on:click=move |_| beside.exchange(desk)>"Exchange design and copy"</button>
            <button type="button" on:click=end>"End the comparison"</button>
        </p>
    }
}
