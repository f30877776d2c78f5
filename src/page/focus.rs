//! Where the keyboard stands when the control that had it is gone.

use leptos::prelude::document;
use wasm_bindgen::JsCast;
use web_sys::HtmlElement;

use super::turns;

/// The shown stage's card; in an empty path, where a stage is added.
const CARD: &str = ".card[aria-current] .show, .path:not(:has(.card)) #add-stage";

/// After the page has followed a change: back to the control of the same spoken name, or else to the
/// shown stage's card. Focus that is still somewhere stays there.
pub fn keep() {
    let name = document()
        .active_element()
        .and_then(|element| element.get_attribute("aria-label"));
    turns::at_rest(move || {
        let is_lost = document()
            .active_element()
            .is_none_or(|element| element.tag_name() == "BODY");
        if !is_lost {
            return;
        }
        let same = name.and_then(|name| find(&format!("button[aria-label='{name}']:enabled")));
        if let Some(place) = same.or_else(|| find(CARD)) {
            let _ = place.focus();
        }
    });
}

/// To the shown stage's card, from a control that goes with the change.
pub fn to_card() {
    if let Some(card) = find(CARD) {
        let _ = card.focus();
    }
}

/// To the button that asked for this answer, from a control of the answer that is drawn anew with the change: the
/// nearest pressed one round it.
pub fn to_asked() {
    let mut around = document().active_element();
    while let Some(element) = around {
        let asked = element.query_selector("button[aria-pressed='true']");
        if let Some(button) = asked.ok().flatten() {
            if let Ok(button) = button.dyn_into::<HtmlElement>() {
                let _ = button.focus();
            }
            return;
        }
        around = element.parent_element();
    }
}

fn find(selector: &str) -> Option<HtmlElement> {
    let found = document().query_selector(selector).ok()??;
    found.dyn_into().ok()
}
