//! Designs as files: saved, and opened.

use crate::page::prelude::*;
use leptos::ev;
use leptos::html;
use wasm_bindgen_futures::JsFuture;

use super::download::download;
use super::kept;
use crate::document::{Opened, file_name, open, saved};
use crate::page::desk::Desk;
use crate::page::fragment;
use crate::page::notice::say;

/// A design with the longest sweep has some hundred kilobytes, bytes.
const LARGEST: f64 = 20e6;
/// Links of so many characters are carried everywhere: RFC 9110, 4.1.
const LONGEST_LINK: usize = 8000;
/// Sentences on a file that are shown, and entries of a later version that are named.
const SHOWN: usize = 4;

/// Save and open.
#[component]
pub fn Files() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let chooser: NodeRef<html::Input> = NodeRef::new();
    let save = move |_| {
        let text = desk.design.with_untracked(|design| {
            (
                file_name(design),
                kept::with_unknown(|unknown| saved(design, unknown)),
            )
        });
        if download(&text.0, "application/json", &text.1).is_err() {
            say(
                desk,
                "The browser does not save files from this page.".to_owned(),
            );
        }
    };
    let choose = move |_| {
        if let Some(chooser) = chooser.get_untracked() {
            chooser.click();
        }
    };
    let chosen = move |_: ev::Event| {
        let Some(input) = chooser.get_untracked() else {
            return;
        };
        let file = input.files().and_then(|files| files.get(0));
        // The same file may be chosen again.
        let taken = file.map(|file| (file.name(), file.size(), file.text()));
        input.set_value("");
        let Some((name, size, text)) = taken else {
            return;
        };
        if size > LARGEST {
            say(
                desk,
                format!(
                    "“{name}” has {:.0} MB, and no design has: it was not opened.",
                    size / 1e6
                ),
            );
            return;
        }
        leptos::task::spawn_local(async move {
            let text = JsFuture::from(text)
                .await
                .ok()
                .and_then(|text| text.as_string());
            match text.as_deref().map(open) {
                Some(Ok(opened)) => {
                    show(desk, &name, opened);
                }
                Some(Err(errors)) => {
                    let told = errors.into_iter().take(SHOWN).map(|error| error.message);
                    let told: Vec<String> = told.collect();
                    say(
                        desk,
                        format!(
                            "“{name}” was not opened; the design of before is still shown. {}",
                            told.join(" ")
                        ),
                    );
                }
                None => say(desk, format!("The browser cannot read “{name}”.")),
            }
        });
    };
    view! {
        <button type="button" on:click=choose>"Open a file …"</button>
        <input class="chooser" type="file" accept=".json,application/json" tabindex="-1" aria-hidden="true" node_ref=chooser on:change=chosen />
        <button type="button" on:click=save>"Save as a file"</button>
    }
}

/// Told where a link to the design is too long to be sent.
#[component]
pub fn LongLink() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let thousands = memo(move || {
        let length = desk.address.with(String::len);
        (length > LONGEST_LINK).then(|| length.div_ceil(1000))
    });
    let long = move || {
        let told = format!(
            "The link to this design has {} thousand characters, and many programs cut it off: send the file.",
            thousands.get()?
        );
        Some(view! { <span class="long-link" role="note">{told}</span> })
    };
    view! { {long} }
}

fn show(desk: Desk, name: &str, opened: Opened) {
    desk.emptied.set(None);
    kept::part();
    kept::keep_unknown(opened.kept.clone());
    fragment::step(desk, || desk.take(opened.design));
    let entries = opened.kept.entries;
    if entries.is_empty() {
        say(
            desk,
            format!("“{name}” is open. Undo brings the former design back."),
        );
        return;
    }
    let more = match entries.len().saturating_sub(SHOWN) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let named: Vec<String> = entries
        .iter()
        .take(SHOWN)
        .map(|(path, _)| format!("“{path}”"))
        .collect();
    say(
        desk,
        format!(
            "“{name}” is open. It is of version {}, and this program does not know {}{more}: nothing is worked out from that. It is \
             kept, and stands in the file again when you save it.",
            opened.kept.version,
            named.join(", ")
        ),
    );
}
