//! Where texts come in: typed, pasted, chosen or dropped.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;

use super::Source;

/// A longer text is not put in the box for typing, where the browser would lay it all out.
const SHOWN: usize = 20_000;

/// Files that are offered to be chosen.
const ACCEPTED: &str = ".txt,.csv,.tsv,.dat,.s1p,.s2p,text/*";

/// Takes dropped files in; whether there were some.
pub fn take_dropped(source: Source, event: &ev::DragEvent) -> bool {
    event.prevent_default();
    let files = event.data_transfer().and_then(|data| data.files());
    let files = files.filter(|files| files.length() > 0);
    let is_some = files.is_some();
    if let Some(files) = files {
        source.take_files(files);
    }
    is_some
}

/// A box for a text, and a button for files; both have ids that begin with `name`.
#[component]
pub fn TextEntry(
    source: Source,
    name: &'static str,
    label: &'static str,
    /// Of the box.
    rows: &'static str,
    /// What the button for files says.
    files: &'static str,
) -> impl IntoView {
    let chosen = move |event: ev::Event| {
        let input = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
        if let Some(files) = input.and_then(|input| input.files()) {
            source.take_files(files);
        }
    };
    let pasted = move |event: ev::ClipboardEvent| {
        let data = event.clipboard_data();
        let text = data.and_then(|data| data.get_data("text").ok());
        if let Some(text) = text.filter(|text| text.len() > SHOWN) {
            event.prevent_default();
            source.take(text);
        }
    };
    let typed = move || {
        source.taken.with(|taken| match &taken[..] {
            [one] if one.typed && one.bytes.len() <= SHOWN => {
                String::from_utf8_lossy(&one.bytes).into_owned()
            }
            _ => String::new(),
        })
    };
    let (text, file) = (format!("{name}-text"), format!("{name}-file"));
    view! {
        <form class="entry" autocomplete="off" method="dialog">
            <label for=text.clone()>{label}</label>
            <textarea
                id=text
                rows=rows
                spellcheck="false"
                placeholder="Rows of frequency, magnitude, phase,\npasted or typed; or drop files here"
                prop:value=typed
                on:paste=pasted
                on:input=move |event| source.take(event_target_value(&event))
            ></textarea>
        </form>
        <p class="buttons">
            <label class="file" for=file.clone()>{files}</label>
            <input id=file type="file" multiple=true accept=ACCEPTED on:change=chosen />
        </p>
    }
}
