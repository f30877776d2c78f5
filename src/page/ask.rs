//! The Requirement region: what is wanted, what may stray, what can be bought.

use crate::page::prelude::*;

use super::better::Better;
use super::desk::Desk;
use super::field::Fields;
use crate::design::{Group, fields};
use crate::outcome::Note;

#[component]
pub fn Ask() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let notes = move || {
        let stage = desk.stage.get();
        let notes = stage.iter().flat_map(|stage| &stage.notes);
        notes
            .map(|note| match note {
                Note::Reach(text) => view! { <p class="problem" role="alert">{text.clone()}</p> },
                Note::Advice(text) => view! { <p class="advice" role="note">{text.clone()}</p> },
            })
            .collect_nodes()
    };
    // Errors that belong to no field are said here.
    let general = move || {
        let refused = desk.refused.get();
        let known: Vec<String> = desk
            .design
            .with_untracked(|design| fields(design).into_iter().map(|(_, f)| f.path).collect());
        refused
            .into_iter()
            .filter(|e| !known.contains(&e.path))
            .map(|e| view! { <p class="problem" role="alert">{e.message}</p> })
            .collect_nodes()
    };
    let fields_of = move |group: fn(usize) -> Group| {
        move || {
            let stage = desk.form.get().stage;
            view! { <Fields fields=desk.group(group(stage)) /> }
        }
    };
    let has_stage = desk.has_stage();
    view! {
        <section class="ask" aria-labelledby="ask-title">
            <h2 id="ask-title">"Requirement"</h2>
            {general}
            <Show
                when=move || has_stage.get()
                fallback=|| view! {
                    <p class="advice" role="note">
                        "No stage to show: the path is a wire, with a gain of 1. Add a stage above, or go to the loop and have it say which \
                         ones the plant needs."
                    </p>
                }
            >
                {fields_of(Group::Ask)}
                {notes}
                <Better />
                <h3>"Limits"</h3>
                {fields_of(Group::Limits)}
            </Show>
            <h3>"Op amp"</h3>
            <Fields fields=desk.group(Group::OpAmp) />
            <details class="shelf">
                <summary>"Shelf: resistors"</summary>
                <Fields fields=desk.group(Group::Resistors) />
            </details>
            <details class="shelf">
                <summary>"Shelf: capacitors"</summary>
                <p class="advice">
                    "Capacitors come first: they are sold in few values and wide tolerances, so each combination is tried as it can be \
                     bought, and resistors, which come in many, are solved round it."
                </p>
                <Fields fields=desk.group(Group::Capacitors) />
            </details>
        </section>
    }
}
