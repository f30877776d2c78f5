//! What stands above and below the work: the name, the path, the cautions.

use leptos::prelude::*;

use super::desk::Desk;
use crate::quantity::{Unit, rounded};

#[component]
pub fn Header() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let state = move || {
        if desk.in_error() {
            "an entry needs a look; the last good result is shown"
        } else if desk.spread_is_current.get() {
            "up to date"
        } else {
            "drawing boards …"
        }
    };
    view! {
        <header class="top">
            <h1>"polewright"</h1>
            <p class="motto">"from a wanted response to parts on a shelf, and how far boards stray"</p>
            <p class="state" role="status" aria-live="polite">{state}</p>
            <Show when=move || desk.notice.with(Option::is_some)>
                <p class="notice" role="alert">{move || desk.notice.get()}</p>
            </Show>
        </header>
    }
}

/// The stages in signal order, a card each.
#[component]
pub fn Path() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let card = move || {
        desk.stage.get().map(|stage| {
            let asked: Vec<String> = stage
                .figures
                .iter()
                .filter_map(|f| {
                    Some(if f.unit == Unit::One {
                        format!("{} {}", f.label, rounded(f.wanted?, f.unit, 4))
                    } else {
                        rounded(f.wanted?, f.unit, 4)
                    })
                })
                .collect();
            view! {
                <li class="card" aria-current="true">
                    <span class="place">"1"</span>
                    <span class="title">{stage.title.clone()}</span>
                    <span class="asked">{asked.join(" · ")}</span>
                    <span class="sign" title="sign of the passband gain">
                        {if stage.sign < 0 { "inverts" } else { "does not invert" }}
                    </span>
                </li>
            }
        })
    };
    view! {
        <nav class="path" aria-label="Path">
            <span class="end">"in"</span>
            <ol>{card}</ol>
            <span class="end">"out"</span>
        </nav>
    }
}

#[component]
pub fn Footer() -> impl IntoView {
    view! {
        <footer class="bottom">
            <p>
                "Computed, not measured: layout, strays and dielectric effects are not in it. Before a loop is closed on anything that \
                 moves or emits light, keep to the machine's own safety case and local codes: first power-up at reduced current, travel \
                 stops in place, and an interlock that does not depend on this loop. Licensed practice comes first."
            </p>
            <p>"The demo, a microscope focus stage with a mode near 2.35 kHz, is invented. Everything runs in this browser; nothing is sent."</p>
        </footer>
    }
}
