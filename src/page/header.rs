//! What stands above and below the work: the name, and the cautions.

use crate::page::prelude::*;

use super::desk::Desk;
use super::notice::Notices;
use super::regions::Links;
use super::trouble;
use crate::sheet::cautions;

#[component]
pub fn Header() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let state = move || {
        // A link may bring what is not valid to begin with.
        let is_bare = || desk.stages.with(Vec::is_empty);
        if desk.trouble.with(Option::is_some) {
            "no new results; the last good result is shown"
        } else if desk.in_error() && is_bare() {
            "an entry is not valid; there is no result yet"
        } else if desk.in_error() {
            "an entry is not valid; the last good result is shown"
        } else if desk.looks_through.get() {
            "reading the sweep …"
        } else if desk.spread_is_current.get() {
            "up to date"
        } else {
            "drawing boards …"
        }
    };
    view! {
        <header class="top">
            <h1>"polewright"</h1>
            <p class="tagline">"from a required response to standard parts, and how boards vary"</p>
            <p class="state" role="status" aria-live="polite">{state}</p>
            <Links />
            <trouble::Told />
            <Notices />
        </header>
    }
}

#[component]
pub fn Footer() -> impl IntoView {
    view! {
        <footer class="bottom">
            <p>{cautions::COMPUTED}</p>
            <p>"The demo, a microscope focus stage with a mode near 2.35 kHz, is invented. Everything runs in this browser; nothing is sent."</p>
        </footer>
    }
}
