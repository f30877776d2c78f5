//! Where a measured response comes in.

use crate::page::prelude::*;
use leptos::ev;

use crate::design::{Design, Measured};
use crate::exchange::{Intake as Of, Kept};
use crate::page::desk::Desk;
use crate::page::intake::{Source, TakenTexts, TextEntry, take_dropped};

fn put_in(desk: Desk, kept: Kept) {
    desk.edit_path(|design| {
        if let Some(response) = design.measured_response_mut() {
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
        over.set(false);
        take_dropped(source, &event);
    };
    // What is in the box belongs to what was looked at when it came.
    let target = memo(move || {
        let shown = desk.form.with(|form| form.stage);
        let of = desk.design.with(|design| design.bench.of);
        (of, matches!(of, Measured::Stage).then_some(shown))
    });
    Effect::new(move |before: Option<_>| {
        let now = target.get();
        if before.is_some_and(|before| before != now) {
            source.clear();
        }
        now
    });
    let is_there = memo(move || {
        let is_there = |design: &Design| !design.measured_response().is_empty();
        desk.design.with(is_there)
    });
    let before = memo(move || {
        is_there
            .get()
            .then_some("The response is still the one read before")
    });
    let remove = move |_| {
        source.clear();
        desk.edit_path(|design| {
            if let Some(response) = design.measured_response_mut() {
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
            <TextEntry source name="bench" label="Measured response" rows="5" files="A file, or several of one board" />
            <p class="secondary">"Frequency and magnitude alone will do; without the phase less can be told."</p>
            <p class="buttons">
                <button type="button" disabled=move || !is_there.get() on:click=remove>"Remove the response"</button>
            </p>
            <TakenTexts source before />
        </div>
    }
}
