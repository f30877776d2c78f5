//! What is to be said above everything: a link that cannot be read, a design that was left, a complaint that has no
//! field to stand at.

use std::collections::HashSet;

use crate::page::prelude::*;
use leptos::html;
use wasm_bindgen_futures::JsFuture;

use super::desk::Desk;
use super::focus;
use crate::design::fields;

/// A sentence, and the link that it is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    pub told: String,
    /// The whole link, where it could not be read: its text can be copied.
    pub link: Option<String>,
}

/// Says a sentence above everything.
pub fn say(desk: Desk, told: String) {
    desk.notice.set(Some(Notice { told, link: None }));
}

#[component]
pub fn Notices() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let notice = move || {
        let Notice { told, link } = desk.notice.get()?;
        let link = link.map(|link| view! { <Unread link /> });
        let close = move |_| {
            focus::to_card();
            desk.notice.set(None);
        };
        Some(view! {
            <div class="notice">
                <p role="alert">{told}</p>
                {link}
                <button type="button" on:click=close>"Close this notice"</button>
            </div>
        })
    };
    // An entry that came with a link may have no field to be put right in.
    let refused = move || {
        let refused = desk.refused.get();
        if refused.is_empty() {
            return None;
        }
        let known = desk.design.with_untracked(fields);
        let known: HashSet<&str> = known.iter().map(|(_, field)| field.path.as_str()).collect();
        let homeless: Vec<_> = refused
            .into_iter()
            .filter(|error| !known.contains(error.path.as_str()))
            .map(|error| view! { <p>{error.message}</p> })
            .collect();
        (!homeless.is_empty()).then(|| view! { <div class="notice" role="alert">{homeless}</div> })
    };
    view! {
        {notice}
        {refused}
    }
}

/// A link that could not be read, to be copied.
#[component]
fn Unread(link: String) -> impl IntoView {
    let field: NodeRef<html::Input> = NodeRef::new();
    let said = Held::new("");
    let text = link.clone();
    let copy = move |_| {
        if let Some(field) = field.get_untracked() {
            field.select();
        }
        let clipboard = window().navigator().clipboard();
        // Pages that are not served securely have none.
        if clipboard.is_undefined() {
            said.set(BY_HAND);
            return;
        }
        let written = clipboard.write_text(&text);
        leptos::task::spawn_local(async move {
            let is_copied = JsFuture::from(written).await.is_ok();
            said.set(if is_copied { "Copied." } else { BY_HAND });
        });
    };
    view! {
        <label for="unread-link">"This link"</label>
        <input id="unread-link" type="text" readonly node_ref=field prop:value=link />
        <button type="button" on:click=copy>"Copy the link"</button>
        <span role="status">{said}</span>
    }
}

const BY_HAND: &str = "The link is selected: copy it with the keyboard.";
