//! Beginning: with a plant, for which the path is emptied first and can be brought back; or over, with the demo.

use crate::page::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{HtmlDetailsElement, HtmlElement};

use super::desk::Desk;
use super::document::kept;
use super::fragment;
use super::notice::Notice;
use crate::design::{Design, ServoDesign, StageDesign};

/// A path that was emptied.
#[derive(Clone, Debug, PartialEq)]
pub struct Emptied {
    /// Why, and what that means.
    told: &'static str,
    /// What the button says that brings it back.
    back: &'static str,
    stages: Vec<StageDesign>,
}

/// Empties the path and goes to where a plant is put in.
pub fn with_a_plant(desk: Desk) {
    let stages = desk.design.with_untracked(|design| design.stages.clone());
    if !stages.is_empty() {
        fragment::step(desk, || desk.edit_path(|design| design.stages.clear()));
        desk.emptied.set(Some(Emptied {
            told: "The path is empty: the loop will be the plant alone until a stage is added. The former path is one step back in \
                   the browser's history, too.",
            back: "Restore the former path",
            stages,
        }));
    }
    go_to_intake();
}

/// Brings the demo; the browser's way back brings the design again.
pub fn over(desk: Desk) {
    let demo = Design::default();
    if desk.design.with_untracked(|design| *design == demo) {
        if desk.notice.with_untracked(Option::is_none) {
            desk.notice.set(Some(Notice {
                told: "The demo is shown already.".to_owned(),
                link: None,
            }));
        }
        return;
    }
    desk.emptied.set(None);
    kept::part();
    fragment::step(desk, || desk.take(demo));
    desk.notice.set(Some(Notice {
        told: "The demo is shown. The former design is one step back in the browser's history."
            .to_owned(),
        link: None,
    }));
}

/// Takes a plant that is not the demo's. The demo's notch means nothing to it: a path that still is the demo's is
/// emptied, unless the loop was already closed round it with such a plant (`is_first` says that it was not).
pub fn take_a_strangers(desk: Desk, is_first: bool, edit: impl FnOnce(&mut ServoDesign)) {
    let demo = Design::default().stages;
    if !is_first || desk.design.with_untracked(|design| design.stages != demo) {
        desk.edit_plant(edit);
        return;
    }
    fragment::step(desk, || {
        desk.edit_path(|design| {
            edit(&mut design.servo);
            design.stages.clear();
        });
    });
    desk.emptied.set(Some(Emptied {
        told: "The demo's notch, for its mode at 2.35 kHz, was removed from the path: the loop is your plant alone until a stage is \
               added.",
        back: "Restore the demo's notch",
        stages: demo,
    }));
}

/// What was emptied, with the button that brings it back, until the path has stages again.
#[component]
pub fn EmptiedPath() -> impl IntoView {
    let desk = expect_context::<Desk>();
    let is_empty = memo(move || desk.form.with(|form| form.circuits.is_empty()));
    Effect::new(move || {
        if !is_empty.get() && desk.emptied.with_untracked(Option::is_some) {
            desk.emptied.set(None);
        }
    });
    let told = move || {
        let Emptied { told, back, stages } = desk.emptied.get()?;
        let put_back = move |_| {
            let stages = stages.clone();
            desk.edit_path(|design| {
                design.view.stage = 0;
                design.stages.splice(0..0, stages);
            });
            desk.bring_back_drafts();
        };
        Some(view! {
            <div class="emptied" role="status">
                <p>{told}</p>
                <p class="buttons">
                    <button type="button" on:click=put_back>{back}</button>
                    <button type="button" on:click=move |_| desk.emptied.set(None)>"Leave it empty"</button>
                </p>
            </div>
        })
    };
    view! { {told} }
}

/// Opens the place where a plant is put in, and has the keyboard there.
fn go_to_intake() {
    let intake = document().get_element_by_id("intake");
    if let Some(intake) = intake.and_then(|found| found.dyn_into::<HtmlDetailsElement>().ok()) {
        intake.set_open(true);
    }
    // A change of the path looks for a lost focus in the next frame, and finds this one.
    let text = document().get_element_by_id("sweep-text");
    if let Some(text) = text.and_then(|found| found.dyn_into::<HtmlElement>().ok()) {
        let _ = text.focus();
    }
    if let Some(region) = document().get_element_by_id("loop") {
        region.scroll_into_view();
    }
}
