//! Where a measured response comes in.

use crate::page::prelude::*;
use leptos::ev;
use wasm_bindgen::JsCast;

use crate::design::{Design, Measured};
use crate::exchange::{Intake as Of, Kept};
use crate::page::desk::Desk;
use crate::page::intake::{Source, TakenTexts};

/// A longer text is not put in the box for typing.
const SHOWN: usize = 20_000;

/// The place of a design where what is looked at stands; none without a stage.
fn place(design: &mut Design) -> Option<&mut String> {
    match design.bench.of {
        Measured::Stage => {
            let shown = design.view.stage;
            design
                .stages
                .get_mut(shown)
                .map(|stage| &mut stage.measured)
        }
        Measured::Path => Some(&mut design.bench.path),
        _ => Some(&mut design.bench.looped),
    }
}

fn put_in(desk: Desk, kept: Kept) {
    desk.edit_path(|design| {
        if let Some(response) = place(design) {
            *response = kept.sweep;
        }
    });
}

#[component]
pub fn Intake() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let source = Source::new(desk, Of::Bench, put_in);
    let over = Held::new(false);
    let dropped = move |event: ev::DragEvent| {
        event.prevent_default();
        over.set(false);
        let files = event.data_transfer().and_then(|data| data.files());
        if let Some(files) = files.filter(|files| files.length() > 0) {
            source.take_files(files);
        }
    };
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
    let is_there = memo(move || {
        desk.design.with(|design| match design.bench.of {
            Measured::Stage => {
                let shown = design.stages.get(design.view.stage);
                shown.is_some_and(|stage| !stage.measured.is_empty())
            }
            Measured::Path => !design.bench.path.is_empty(),
            _ => !design.bench.looped.is_empty(),
        })
    });
    let before = memo(move || {
        is_there
            .get()
            .then_some("The response is still the one read before")
    });
    let typed = move || {
        source.taken.with(|taken| match &taken[..] {
            [one] if one.typed && one.bytes.len() <= SHOWN => {
                String::from_utf8_lossy(&one.bytes).into_owned()
            }
            _ => String::new(),
        })
    };
    let remove = move |_| {
        source.clear();
        desk.edit_path(|design| {
            if let Some(response) = place(design) {
                response.clear();
            }
        });
    };
    view! {
        <div
            class="bench-intake"
            class:over=over
            on:dragover=move |event: ev::DragEvent| { event.prevent_default(); over.set(true); }
            on:dragleave=move |_| over.set(false)
            on:drop=dropped
        >
            <label for="bench-text">"Measured response"</label>
            <textarea
                id="bench-text"
                rows="5"
                spellcheck="false"
                placeholder="Rows of frequency, magnitude, phase,\npasted or typed; or drop a file here"
                prop:value=typed
                on:paste=pasted
                on:input=move |event| source.take(event_target_value(&event))
            ></textarea>
            <p class="buttons">
                <label class="file" for="bench-file">"A file, or several of one board"</label>
                <input
                    id="bench-file"
                    type="file"
                    multiple=true
                    accept=".txt,.csv,.tsv,.dat,.s1p,.s2p,text/*"
                    on:change=chosen
                />
                <button type="button" disabled=move || !is_there.get() on:click=remove>"Remove the response"</button>
            </p>
            <TakenTexts source before />
        </div>
    }
}
